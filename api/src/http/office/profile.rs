//! The profile's values in force with their texts, changes of them, and what stands on a label.

use actix_web::{HttpResponse, get, post, web};
use domain::ids::BatchId;
use domain::limits::Profile;
use domain::profile::label::{LabelFields, LabelQuestion, label_fields_by};
use domain::profile::{ProfileInForce, ProfileKey, ProfileValue};
use domain::settings::ProfileValueChanged;
use domain::text::Text;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::super::calls::Calls;
use super::corrections::own_operation;
use super::reports::house;
use super::writes::{Stamp, write};
use crate::http::problem::{BodyProblems, CommonProblems, Problem};
use crate::http::{App, Body, Session};
use crate::wire::office::Written;

pub(super) fn routes(cfg: &mut impl Calls) {
    cfg.service(in_force).service(change_value).service(label_fields);
}

/// A value of a profile, as the owner found it to be.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeProfileValue {
    /// The profile whose value it is.
    profile: Profile,
    /// What it is about.
    key: ProfileKey,
    /// The new value; absent takes an earlier change back.
    #[serde(default)]
    value: Option<ProfileValue>,
    /// Why: the text, its edition, or the authority that said so.
    reason: Text,
}

/// Every value in force with the text it comes from, how sure that is, and the owner's change of it.
#[utoipa::path(tag = "reports", operation_id = "profile_in_force", security(("bearer" = [])),
    responses((status = 200, body = ProfileInForce), CommonProblems))]
#[get("/v1/settings/profile")]
pub(crate) async fn in_force(app: web::Data<App>, session: Session) -> Result<web::Json<ProfileInForce>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(ProfileInForce::of(&house.settings())))
}

/// Changes a value of a profile, or takes a change back. Check with your authority: its text rules.
#[utoipa::path(tag = "happenings", operation_id = "change_profile_value", security(("bearer" = [])), params(Stamp),
    request_body = ChangeProfileValue, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/profile-values")]
pub(crate) async fn change_value(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<ChangeProfileValue>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let ChangeProfileValue {
        profile,
        key,
        value,
        reason,
    } = body.0;
    let entry = ProfileValueChanged {
        operation_id,
        profile,
        key,
        value,
        reason,
    };
    write(&app, session, stamp.into_inner(), (None, entry.into())).await
}

/// What stands on the labels of a batch by the profile in force. Origins abroad and where it is sent are not in the book.
#[utoipa::path(tag = "reports", operation_id = "label_fields", security(("bearer" = [])),
    params(("id" = Uuid, Path, description = "the batch")), responses((status = 200, body = LabelFields), CommonProblems))]
#[get("/v1/batches/{id}/label-fields")]
pub(crate) async fn label_fields(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
) -> Result<web::Json<LabelFields>, Problem> {
    let house = house(&app, session).await?;
    let question = LabelQuestion::of_batch(&house, BatchId::from_uuid(*id)).ok_or(Problem::NotFound)?;
    Ok(web::Json(label_fields_by(house.settings().rules(), &question)))
}
