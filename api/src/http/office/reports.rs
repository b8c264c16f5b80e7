//! Answers worked out from everything at once: yields, traces, holds, registers, what to do next, doubts.

use actix_web::{get, web};
use chrono::{DateTime, Utc};
use domain::common::{FlagCode, Side};
use domain::doubts::Doubt;
use domain::holds::{FeedRegister, HoldAnswer, HoldList, Holds, MedicineRegister};
use domain::honey_super::StorePlaces;
use domain::house::House;
use domain::ids::EntryId;
use domain::next::Next;
use domain::plan::extraction_order::{OrderAsked, OrderPlan, plan_extraction_order};
use domain::settle::{self, Settling};
use domain::subject::{Subject, SubjectKind};
use domain::trace::{Direction, Graph, Trace, steps};
use domain::yields::Season;
use futures_util::FutureExt;
use serde::Deserialize;
use serde_json::json;
use utoipa::IntoParams;
use uuid::Uuid;

use super::super::calls::Calls;
use super::whole_house;
use crate::auth::Right;
use crate::auth::devices::{self, Device};
use crate::clock;
use crate::http::problem::{CommonProblems, Problem};
use crate::http::{App, Session};
use crate::ledger::doubts::{DeviceDoubt, doubts};
use crate::wire::office::{Affected, Doubted, Flagged, FlaggedSide, Flags};

pub(super) fn routes(cfg: &mut impl Calls) {
    cfg.service(yields)
        .service(trace_lot)
        .service(trace_batch)
        .service(trace_hive)
        .service(trace_super)
        .service(trace_code)
        .service(next)
        .service(extraction_order)
        .service(holds)
        .service(hold)
        .service(medicine_register)
        .service(feed_register)
        .service(store_places)
        .service(flags);
}

/// Loads everything this caller may read. Those who may not read customers get answers without them.
pub(super) async fn house(app: &App, session: Session) -> Result<House, Problem> {
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::Read)?;
            whole_house(conn, &who).await
        }
        .boxed()
    });
    work.await
}

/// Which season.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfSeason {
    /// The year of its runs.
    #[param(minimum = 1970, maximum = 9999)]
    season: i32,
}

/// What each yard and hive yielded in a season, with letters and denominators.
#[utoipa::path(tag = "reports", operation_id = "yields", security(("bearer" = [])), params(OfSeason),
    responses((status = 200, body = Season), CommonProblems))]
#[get("/v1/yields")]
pub(crate) async fn yields(
    app: web::Data<App>,
    session: Session,
    of: web::Query<OfSeason>,
) -> Result<web::Json<Season>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(domain::yields::season(&house, of.season)))
}

async fn traced(app: &App, session: Session, subject: Subject) -> Result<web::Json<Trace>, Problem> {
    let house = house(app, session).await?;
    if house.get(subject).is_none() {
        return Err(Problem::NotFound);
    }
    Ok(web::Json(domain::trace::trace(&house, subject, clock::now())))
}

macro_rules! traces {
    ($($name:ident $path:tt $id:tt $kind:ident $says:tt;)*) => {$(
        #[utoipa::path(tag = "reports", operation_id = $id, summary = $says, security(("bearer" = [])),
            params(("id" = Uuid, Path, description = "which one")), responses((status = 200, body = Trace), CommonProblems))]
        #[get($path)]
        pub(crate) async fn $name(
            app: web::Data<App>,
            session: Session,
            id: web::Path<Uuid>,
        ) -> Result<web::Json<Trace>, Problem> {
            traced(&app, session, Subject { kind: SubjectKind::$kind, id: *id }).await
        }
    )*};
}

traces! {
    trace_lot "/v1/lots/{id}/trace" "trace_lot" Lot "Where a lot came from and went";
    trace_batch "/v1/batches/{id}/trace" "trace_batch" Batch "Where the honey of jars came from, and who has them";
    trace_hive "/v1/hives/{id}/trace" "trace_hive" Hive "Where the honey of a hive went";
    trace_super "/v1/supers/{id}/trace" "trace_super" Super "Where the honey of a super came from and went";
}

/// Which code or number.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfCode {
    /// The code on a jar or of a lot, or the number of a hive, super or container.
    code: String,
}

/// The trace of whatever bears a code or number.
#[utoipa::path(tag = "reports", operation_id = "trace_code", security(("bearer" = [])), params(OfCode),
    responses((status = 200, body = Trace), CommonProblems))]
#[get("/v1/trace")]
pub(crate) async fn trace_code(
    app: web::Data<App>,
    session: Session,
    of: web::Query<OfCode>,
) -> Result<web::Json<Trace>, Problem> {
    let house = house(&app, session).await?;
    let trace = domain::trace::trace_code(&house, &of.code, clock::now()).ok_or(Problem::NotFound)?;
    Ok(web::Json(trace))
}

/// What waits in the house and what to do with it next, with the rule that says so.
#[utoipa::path(tag = "reports", operation_id = "house_next", security(("bearer" = [])),
    responses((status = 200, body = Next), CommonProblems))]
#[get("/v1/house/next")]
pub(crate) async fn next(app: web::Data<App>, session: Session) -> Result<web::Json<Next>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(domain::next::next(&house, clock::now())))
}

/// What to do with the supers in the house and in which order, one yard after the other, with the reasons.
#[utoipa::path(tag = "reports", operation_id = "extraction_order", security(("bearer" = [])),
    responses((status = 200, body = OrderPlan), CommonProblems))]
#[get("/v1/house/extraction-order")]
pub(crate) async fn extraction_order(app: web::Data<App>, session: Session) -> Result<web::Json<OrderPlan>, Problem> {
    let house = house(&app, session).await?;
    let asked = OrderAsked::of_house(&house, clock::now(), None);
    Ok(web::Json(plan_extraction_order(&asked)))
}

/// Everything that holds, with how much it covers: set by hand, or following from what happened in hives and boxes.
#[utoipa::path(tag = "reports", operation_id = "list_holds", security(("bearer" = [])),
    responses((status = 200, body = HoldList), CommonProblems))]
#[get("/v1/holds")]
pub(crate) async fn holds(app: web::Data<App>, session: Session) -> Result<web::Json<HoldList>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(Holds::of(&house).list(clock::now())))
}

/// One hold by the entry that tells its cause: what it covers, what ends it, what that would free, who has what left.
#[utoipa::path(tag = "reports", operation_id = "get_hold", security(("bearer" = [])),
    params(("id" = Uuid, Path, description = "the entry that tells the cause")),
    responses((status = 200, body = HoldAnswer), CommonProblems))]
#[get("/v1/holds/{id}")]
pub(crate) async fn hold(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
) -> Result<web::Json<HoldAnswer>, Problem> {
    let house = house(&app, session).await?;
    let answer = Holds::of(&house).answer(EntryId::from_uuid(*id), clock::now());
    answer.map(web::Json).ok_or(Problem::NotFound)
}

/// Medicines bought, used and disposed of.
#[utoipa::path(tag = "reports", operation_id = "medicine_register", security(("bearer" = [])),
    responses((status = 200, body = MedicineRegister), CommonProblems))]
#[get("/v1/registers/medicines")]
pub(crate) async fn medicine_register(
    app: web::Data<App>,
    session: Session,
) -> Result<web::Json<MedicineRegister>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(domain::holds::medicine_register(&house)))
}

/// Everything that was fed.
#[utoipa::path(tag = "reports", operation_id = "feed_register", security(("bearer" = [])),
    responses((status = 200, body = FeedRegister), CommonProblems))]
#[get("/v1/registers/feed")]
pub(crate) async fn feed_register(app: web::Data<App>, session: Session) -> Result<web::Json<FeedRegister>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(domain::holds::feed_register(&house)))
}

/// The places in the store: how many boxes stand there, and which were last there and are no longer supers.
#[utoipa::path(tag = "reports", operation_id = "store_places", security(("bearer" = [])),
    responses((status = 200, body = StorePlaces), CommonProblems))]
#[get("/v1/registers/store-places")]
pub(crate) async fn store_places(app: web::Data<App>, session: Session) -> Result<web::Json<StorePlaces>, Problem> {
    let house = house(&app, session).await?;
    Ok(web::Json(StorePlaces::of(&house)))
}

/// Every doubt somebody should look at: both sides, what hangs on it, and the entries that would settle it.
#[utoipa::path(tag = "reports", operation_id = "flags", security(("bearer" = [])),
    responses((status = 200, body = Flags), CommonProblems))]
#[get("/v1/flags")]
pub(crate) async fn flags(app: web::Data<App>, session: Session) -> Result<web::Json<Flags>, Problem> {
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(Right::Read)?;
            let doubts = doubts(conn, who.operation.uuid()).await?;
            let devices = devices::list(conn).await?;
            Ok((whole_house(conn, &who).await?, doubts, devices))
        }
        .boxed()
    });
    let (house, doubts, devices) = work.await?;
    let graph = Graph::of(&house);
    let folded = house.iter().flat_map(|(subject, state)| {
        let flags = state.flags().iter();
        flags.map(move |flag| (subject, flag.clone()))
    });
    let mut items = Vec::new();
    // Some doubts show only over several things.
    for (subject, flag) in folded.chain(Holds::over(&house, &graph).doubts()) {
        let Some(state) = house.get(subject) else { continue };
        items.push(Flagged {
            kind: subject.kind.name(),
            id: subject.id,
            label: house.label(subject),
            code: word(flag.code),
            sentence: flag.code.sentence(),
            sides: flag.sides.iter().map(|side| named(&house, side)).collect(),
            affects: affected(&house, &graph, subject),
            settled_by: settle::settled_by(subject, state, &flag),
            missing: Vec::new(),
        });
    }
    for (number, boxes) in settle::same_numbers(&house) {
        let Some(first) = boxes.first() else { continue };
        items.push(Flagged {
            kind: first.kind.name(),
            id: first.id,
            label: number.clone(),
            code: "same_number".to_owned(),
            sentence: "several boxes in use bear this number",
            sides: Vec::new(),
            affects: boxes.iter().map(|subject| listed(&house, *subject)).collect(),
            settled_by: settle::suffixes(&number, &boxes),
            missing: Vec::new(),
        });
    }
    items.extend(doubts.into_iter().filter_map(|doubt| {
        let device = devices.iter().find(|device| device.id().uuid() == doubt.device)?;
        // Nothing more will come from a device that is lost; what it told stays told.
        (doubt.code != "gap" || device.state != "lost").then(|| of_device(device, doubt))
    }));
    let between = domain::doubts::doubts(&house).into_iter();
    // One number on several boxes stands among the items already, with the suffixes that would settle it.
    let between = between.filter(|doubt| !matches!(doubt, Doubt::SharedNumber { .. }));
    let between = between.map(|doubt| Doubted {
        rule: doubt.rule(),
        sentence: doubt.sentence(&house),
        doubt,
    });
    Ok(web::Json(Flags {
        items,
        doubts: between.collect(),
    }))
}

fn of_device(device: &Device, doubt: DeviceDoubt) -> Flagged {
    let side = |(id, at): &(Uuid, DateTime<Utc>)| FlaggedSide {
        label: None,
        side: Side {
            entry_id: EntryId::from_uuid(*id),
            at: *at,
            names: None,
            amount: None,
        },
    };
    let void = |(id, _): &(Uuid, DateTime<Utc>)| Settling {
        kind: "voided",
        data: json!({ "entry_id": id }),
        to_fill: vec!["reason"],
        says: "withdraw it, and enter it with its right time by hand",
    };
    Flagged {
        kind: "device",
        id: doubt.device,
        label: device.name.clone(),
        sentence: doubt.sentence(),
        sides: doubt.entries.iter().map(side).collect(),
        affects: Vec::new(),
        settled_by: doubt.entries.iter().map(void).collect(),
        missing: doubt.missing,
        code: doubt.code,
    }
}

fn word(code: FlagCode) -> String {
    serde_json::to_value(code)
        .ok()
        .and_then(|word| Some(word.as_str()?.to_owned()))
        .unwrap_or_default()
}

fn listed(house: &House, subject: Subject) -> Affected {
    Affected {
        subject,
        label: house.label(subject),
    }
}

/// Lots and jars downstream: they are only as sure as what they came from.
fn affected(house: &House, graph: &Graph, subject: Subject) -> Vec<Affected> {
    let of_trade = |kind| matches!(kind, SubjectKind::Lot | SubjectKind::Batch);
    let steps = steps(house, graph, &[subject], Direction::Forward).into_iter();
    steps
        .filter(|step| of_trade(step.subject.kind))
        .map(|step| listed(house, step.subject))
        .collect()
}

fn named(house: &House, side: &Side) -> FlaggedSide {
    FlaggedSide {
        label: side.names.map(|subject| house.label(subject)),
        side: side.clone(),
    }
}
