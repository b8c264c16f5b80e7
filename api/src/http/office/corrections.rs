//! Corrections of what was written, and what the owner settles for the whole operation.

use actix_web::{HttpResponse, post, web};
use domain::entry::{Amended, Entry, ReadRefused, Voided};
use domain::ids::EntryId;
use domain::limits::Profile;
use domain::settings::{HoldDaysSet, HouseLimitSet, PlannedJars, ProfileChosen, RegionChosen, SeasonPlanned};
use domain::text::{Name, Text};
use domain::units::{Count, Days, Moisture, Year};
use futures_util::FutureExt;
use serde::Deserialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;
use uuid::Uuid;

use super::super::calls::Calls;
use super::writes::{Stamp, write};
use crate::auth::Right;
use crate::http::problem::{BodyProblems, CommonProblems, Problem};
use crate::http::{App, Body, Session};
use crate::ledger::read::of_id;
use crate::wire::office::Written;

pub(super) fn routes(cfg: &mut impl Calls) {
    cfg.service(amend)
        .service(void)
        .service(choose_profile)
        .service(set_house_limit)
        .service(set_hold_days)
        .service(choose_region)
        .service(plan_season);
}

/// What should have been told.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Amend {
    /// The version of the entry's kind.
    v: u16,
    /// The whole new content.
    #[schema(value_type = Object)]
    data: Box<RawValue>,
    /// Why.
    reason: Option<Text>,
}

/// Why an entry is withdrawn.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Void {
    /// Why.
    reason: Text,
}

/// The kind of an entry of the caller's operation.
async fn kind_of(app: &App, session: &Session, id: Uuid) -> Result<String, Problem> {
    let work = app.snapshot(session, move |conn, who| {
        async move {
            who.may(Right::Push)?;
            who.may(Right::Read)?;
            Ok(of_id(conn, who.operation.uuid(), id).await?)
        }
        .boxed()
    });
    work.await?.map(|(_, kind, _)| kind).ok_or(Problem::NotFound)
}

fn unread(refused: ReadRefused) -> Problem {
    let detail = refused.to_string();
    match refused {
        ReadRefused::BadField { pointer, .. } => Problem::BadField {
            pointer: format!("/data{pointer}"),
            detail,
        },
        ReadRefused::UnknownVersion { .. } => Problem::BadField {
            pointer: "/v".to_owned(),
            detail,
        },
        ReadRefused::UnknownKind { .. } => Problem::BadField {
            pointer: "/data".to_owned(),
            detail,
        },
    }
}

/// Says what an entry should have told; the old content is kept.
#[utoipa::path(tag = "happenings", operation_id = "amend_entry", security(("bearer" = [])),
    params(("id" = Uuid, Path, description = "the entry"), Stamp), request_body = Amend,
    responses((status = 201, body = Written), (status = 200, body = Written, description = "written before"),
        CommonProblems, BodyProblems))]
#[post("/v1/entries/{id}/amendments")]
pub(crate) async fn amend(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
    stamp: web::Query<Stamp>,
    body: Body<Amend>,
) -> Result<HttpResponse, Problem> {
    let kind = kind_of(&app, &session, *id).await?;
    let Amend { v, data, reason } = body.0;
    let instead = Box::new(Entry::read(&kind, v, data.get()).map_err(unread)?);
    let entry = Entry::Amended(Amended {
        entry_id: EntryId::from_uuid(*id),
        kind,
        v,
        instead,
        reason,
    });
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Withdraws an entry; it is kept, and a void can itself be voided.
#[utoipa::path(tag = "happenings", operation_id = "void_entry", security(("bearer" = [])),
    params(("id" = Uuid, Path, description = "the entry"), Stamp), request_body = Void,
    responses((status = 201, body = Written), (status = 200, body = Written, description = "written before"),
        CommonProblems, BodyProblems))]
#[post("/v1/entries/{id}/voids")]
pub(crate) async fn void(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
    stamp: web::Query<Stamp>,
    body: Body<Void>,
) -> Result<HttpResponse, Problem> {
    kind_of(&app, &session, *id).await?;
    let entry = Entry::Voided(Voided {
        entry_id: EntryId::from_uuid(*id),
        reason: body.0.reason,
    });
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Whose limits and label rules apply.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct ChooseProfile {
    /// The country's rules; check with your authority.
    profile: Profile,
}

/// The house's own limit.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct SetHouseLimit {
    /// The most water, hundredths of a per cent.
    moisture_hundredths: Moisture,
}

/// How many days holds last where no label says so.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct SetHoldDays {
    /// Whole days after feed came off in which a super that goes on is held; 14 until told otherwise.
    after_feed_days: Option<Days>,
    /// The least whole days after a medicine came out, whatever its label says.
    least_wait_days: Option<Days>,
}

/// Where the business is.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChooseRegion {
    /// The country, as its two letters in ISO 3166-1.
    country: Name,
    /// The state or province, in the words of its statistics.
    region: Option<Name>,
}

/// A season as planned.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlanSeason {
    /// The season.
    season: Year,
    /// Colonies fit to produce at the start of the flow.
    colonies: Count,
    /// Into which jars the honey is to go.
    jars: Option<Vec<PlannedJars>>,
}

pub(super) async fn own_operation(app: &App, session: &Session) -> Result<domain::ids::OperationId, Problem> {
    let work = app.snapshot(session, move |_, who| {
        async move {
            who.may(Right::Office)?;
            Ok(who.operation)
        }
        .boxed()
    });
    work.await
}

/// Chooses whose limits and label rules apply. Check with your authority: its text rules.
#[utoipa::path(tag = "happenings", operation_id = "choose_profile", security(("bearer" = [])), params(Stamp),
    request_body = ChooseProfile, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/profiles")]
pub(crate) async fn choose_profile(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<ChooseProfile>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let entry = ProfileChosen {
        operation_id,
        profile: body.0.profile,
    }
    .into();
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Sets the house's own moisture limit; it never exceeds the law's.
#[utoipa::path(tag = "happenings", operation_id = "set_house_limit", security(("bearer" = [])), params(Stamp),
    request_body = SetHouseLimit, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/house-limits")]
pub(crate) async fn set_house_limit(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<SetHouseLimit>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let entry = HouseLimitSet {
        operation_id,
        moisture_hundredths: body.0.moisture_hundredths,
    }
    .into();
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Sets how many days holds last where no label says so; what is absent stays as it was.
#[utoipa::path(tag = "happenings", operation_id = "set_hold_days", security(("bearer" = [])), params(Stamp),
    request_body = SetHoldDays, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/hold-days")]
pub(crate) async fn set_hold_days(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<SetHoldDays>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let entry = HoldDaysSet {
        operation_id,
        after_feed_days: body.0.after_feed_days,
        least_wait_days: body.0.least_wait_days,
    }
    .into();
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Says where the business is, so that public figures of that place can stand beside its own.
#[utoipa::path(tag = "happenings", operation_id = "choose_region", security(("bearer" = [])), params(Stamp),
    request_body = ChooseRegion, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/regions")]
pub(crate) async fn choose_region(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<ChooseRegion>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let entry = RegionChosen {
        operation_id,
        country: body.0.country,
        region: body.0.region,
    }
    .into();
    write(&app, session, stamp.into_inner(), (None, entry)).await
}

/// Plans a season: what the forecast is made for. The later plan of a season counts.
#[utoipa::path(tag = "happenings", operation_id = "plan_season", security(("bearer" = [])), params(Stamp),
    request_body = PlanSeason, responses((status = 201, body = Written),
        (status = 200, body = Written, description = "written before"), CommonProblems, BodyProblems))]
#[post("/v1/settings/plans")]
pub(crate) async fn plan_season(
    app: web::Data<App>,
    session: Session,
    stamp: web::Query<Stamp>,
    body: Body<PlanSeason>,
) -> Result<HttpResponse, Problem> {
    let operation_id = own_operation(&app, &session).await?;
    let entry = SeasonPlanned {
        operation_id,
        season: body.0.season,
        colonies: body.0.colonies,
        jars: body.0.jars,
    }
    .into();
    write(&app, session, stamp.into_inner(), (None, entry)).await
}
