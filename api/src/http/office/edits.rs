//! Edits of words: names, numbers, claims. Each names the version it is based on in `If-Match`.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, patch, web};
use diesel_async::AsyncConnection;
use domain::entry::{Entry, Wish};
use domain::ids::EntryId;
use domain::subject::Subject;
use serde_json::Value;
use uuid::Uuid;

use super::super::calls::Calls;
use crate::auth::Right;
use crate::clock;
use crate::http::problem::{BodyProblems, CommonProblems, Problem};
use crate::http::{App, Body, IfMatch, Session, etag};
use crate::ledger::{NewEntry, Turn};
use crate::projections::read;
use crate::wire::office::single;

async fn edit(
    app: &App,
    session: Session,
    based_on: i64,
    (subject, entry): (Subject, Entry),
) -> Result<HttpResponse, Problem> {
    let mut conn = app.writer(&session, 0).await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let mut turn = Turn::begin(conn, &session, Right::Office).await?;
            let who = *turn.who();
            let found = read::load_rows(conn, &who, &[subject]).await?.into_iter().next();
            let found = found.ok_or(Problem::NotFound)?;
            if found.changed_seq != based_on {
                return Err(Problem::PreconditionFailed);
            }
            let id = EntryId::from_uuid(clock::new_id());
            let new = NewEntry::made_here(&entry, id, clock::now(), 0, turn.last_seq())?;
            turn.append(conn, &[new]).await?;
            let now = read::load_rows(conn, &who, &[subject]).await?.into_iter().next();
            now.ok_or(Problem::NotFound)
        })
        .await
    });
    let row = work.await?;
    let body: Value = single(row.subject, row.label.as_deref(), &row.status, &row.state).map_err(Problem::internal)?;
    Ok(HttpResponse::Ok()
        .insert_header((ETAG, etag(row.changed_seq)))
        .json(body))
}

macro_rules! edits {
    ($($name:ident $path:tt $id:tt $wish:ty, $state:ty, $says:tt;)*) => {
        $(
            #[utoipa::path(tag = "things", operation_id = $id, summary = $says, security(("bearer" = [])),
                params(("id" = Uuid, Path, description = "which one"),
                    ("If-Match" = String, Header, description = "the ETag the edit is based on")),
                request_body = $wish, responses((status = 200, body = $state), CommonProblems, BodyProblems))]
            #[patch($path)]
            pub(crate) async fn $name(
                app: web::Data<App>,
                session: Session,
                id: web::Path<Uuid>,
                based_on: IfMatch,
                body: Body<$wish>,
            ) -> Result<HttpResponse, Problem> {
                let subject = <<$wish as Wish>::About>::from_uuid(*id);
                let told = (subject.into(), body.0.about(subject).into());
                edit(&app, session, based_on.version()?, told).await
            }
        )*

        pub(super) fn routes(cfg: &mut impl Calls) {
            $(cfg.service($name);)*
        }
    };
}

edits! {
    describe_colony "/v1/colonies/{id}" "describe_colony" domain::colony::DescribeColony, domain::colony::Colony, "Change words about a colony";
    describe_container "/v1/containers/{id}" "describe_container" domain::fill::DescribeContainer, domain::fill::Container, "Change words about a container";
    describe_customer "/v1/customers/{id}" "describe_customer" domain::delivery::DescribeCustomer, domain::delivery::Customer, "Change words about a buyer";
    describe_hive "/v1/hives/{id}" "describe_hive" domain::hive::DescribeHive, domain::hive::Hive, "Change the mark of a hive";
    describe_lot "/v1/lots/{id}" "describe_lot" domain::lot::DescribeLot, domain::lot::Lot, "Change words about a lot";
    describe_medicine "/v1/medicines/{id}" "describe_medicine" domain::medicine::DescribeMedicine, domain::medicine::Medicine, "Change what is known of a medicine";
    describe_meter "/v1/meters/{id}" "describe_meter" domain::meter::DescribeMeter, domain::meter::Meter, "Change words about a refractometer";
    describe_room "/v1/rooms/{id}" "describe_room" domain::warm_room::DescribeRoom, domain::warm_room::Room, "Rename a warm room";
    describe_run "/v1/runs/{id}" "describe_run" domain::extraction::DescribeRun, domain::extraction::Run, "Change words about a run";
    describe_scale "/v1/scales/{id}" "describe_scale" domain::meter::DescribeScale, domain::meter::Scale, "Change words about a scale";
    describe_super "/v1/supers/{id}" "describe_super" domain::honey_super::DescribeSuper, domain::honey_super::Super, "Change words about a super";
    describe_yard "/v1/yards/{id}" "describe_yard" domain::yard::DescribeYard, domain::yard::Yard, "Change words about a yard";
}
