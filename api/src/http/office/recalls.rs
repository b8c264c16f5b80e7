//! A recall, worked out from wherever it begins; as JSON, or as one plain text for an authority.

use actix_web::http::header::ContentType;
use actix_web::{HttpResponse, get, web};
use chrono::NaiveDate;
use domain::house::House;
use domain::ids::MedicineId;
use domain::recall::{Recall, Suspect, plain_text, recall};
use domain::text::Name;
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::super::calls::Calls;
use super::reports::house;
use crate::clock;
use crate::http::problem::{CommonProblems, Problem};
use crate::http::{App, Session};

pub(super) fn routes(cfg: &mut impl Calls) {
    cfg.service(work_out_recall);
}

/// What a recall begins with: a code or number, a day, or a medicine with its batch.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfRecall {
    /// The code on a jar or of a lot, the number of a hive, super or container, or the id of a delivery.
    code: Option<String>,
    /// The day on which something was spun, filled, drawn or bottled, UTC.
    day: Option<NaiveDate>,
    /// The medicine.
    medicine_id: Option<Uuid>,
    /// Its batch.
    batch: Option<String>,
    /// Answer with one plain text instead.
    text: Option<bool>,
}

impl OfRecall {
    fn suspect(&self, house: &House) -> Result<Suspect, Problem> {
        let bad = |pointer: &str, detail: &str| Problem::BadField {
            pointer: pointer.to_owned(),
            detail: detail.to_owned(),
        };
        match (&self.code, self.day, self.medicine_id, &self.batch) {
            (Some(code), None, None, None) => match house.all_named(code) {
                things if things.is_empty() => Err(Problem::NotFound),
                things => Ok(Suspect::Things(things)),
            },
            (None, Some(day), None, None) => Ok(Suspect::Day(day)),
            (None, None, Some(id), Some(batch)) => {
                let batch = Name::new(batch).map_err(|refused| bad("/batch", &refused.to_string()))?;
                Ok(Suspect::MedicineBatch(MedicineId::from_uuid(id), batch))
            }
            (None, None, Some(_), None) => Err(bad("/batch", "name the batch of the medicine")),
            _ => Err(bad("/code", "name one of `code`, `day`, or `medicine_id` with `batch`")),
        }
    }
}

/// Every jar that may be affected, whom to ring, and where it came from. Those who may not read buyers get none.
#[utoipa::path(tag = "reports", operation_id = "recall", security(("bearer" = [])), params(OfRecall),
    responses((status = 200, body = Recall), CommonProblems))]
#[get("/v1/recall")]
pub(crate) async fn work_out_recall(
    app: web::Data<App>,
    session: Session,
    of: web::Query<OfRecall>,
) -> Result<HttpResponse, Problem> {
    let house = house(&app, session).await?;
    let found = recall(&house, &of.suspect(&house)?);
    if of.text == Some(true) {
        let text = plain_text(&found, clock::now());
        return Ok(HttpResponse::Ok().content_type(ContentType::plaintext()).body(text));
    }
    Ok(HttpResponse::Ok().json(found))
}
