//! Number labels as a sheet: `/v1/label-sheets`.

use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpResponse, post, web};
use diesel_async::AsyncConnection;

use super::App;
use super::body::Body;
use super::problem::{BodyProblems, CommonProblems, Problem};
use super::session::Session;
use crate::auth::{self, Right, members};
use crate::labels::{self, LabelsRefused, Wish};

impl From<LabelsRefused> for Problem {
    fn from(refused: LabelsRefused) -> Self {
        match refused {
            LabelsRefused::Pdf(_) => Self::internal(refused),
            refused => Self::BadField {
                pointer: refused.pointer(),
                detail: refused.to_string(),
            },
        }
    }
}

/// Makes number labels for boxes, pails and hives as a sheet to be printed. Nothing of it is kept.
#[utoipa::path(tag = "papers", operation_id = "make_label_sheet", security(("bearer" = [])), request_body = Wish,
    responses((status = 200, body = String, content_type = "application/pdf", description = "The sheet as a PDF"),
        CommonProblems, BodyProblems))]
#[post("/v1/label-sheets")]
pub(crate) async fn make(app: web::Data<App>, session: Session, body: Body<Wish>) -> Result<HttpResponse, Problem> {
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may(Right::Read)?;
            Ok::<_, Problem>(members::operation_name(conn).await?)
        })
        .await
    });
    let title = work.await?;
    let drawn = web::block(move || labels::pdf(&body.0, &title)).await;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "application/pdf"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"labels.pdf\""))
        .body(drawn.map_err(Problem::internal)??))
}
