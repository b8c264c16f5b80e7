//! Lists of things and single things.

use actix_web::http::header::{ETAG, IF_NONE_MATCH};
use actix_web::{HttpRequest, HttpResponse, get, web};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::subject::{Subject, SubjectKind};
use futures_util::FutureExt;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;
use uuid::Uuid;

use super::super::calls::Calls;
use crate::auth::Right;
use crate::http::problem::{CommonProblems, Problem};
use crate::http::{App, Session, etag};
use crate::projections::read::{self, Row};
use crate::wire::office::{Item, List, is_of_customers, single};

/// Lines of a page unless asked otherwise.
const PAGE: i64 = 200;
/// The most lines of a page.
const PAGE_MAX: i64 = 1_000;

/// Which lines.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Lines {
    /// Only those in this state.
    state: Option<String>,
    /// `next` of the page before.
    next: Option<String>,
    /// How many, at most.
    #[param(minimum = 1, maximum = 1000, default = 200)]
    limit: Option<i64>,
}

impl Lines {
    /// The page goes on after this label and id.
    fn after(&self) -> Result<Option<(String, Uuid)>, Problem> {
        let Some(next) = &self.next else { return Ok(None) };
        let bad = || Problem::BadField {
            pointer: "/next".to_owned(),
            detail: "this is no `next` of ours".to_owned(),
        };
        let bytes = URL_SAFE_NO_PAD.decode(next).map_err(|_| bad())?;
        let after: (String, Uuid) = serde_json::from_slice(&bytes).map_err(|_| bad())?;
        if after.0.contains('\0') {
            Err(bad())
        } else {
            Ok(Some(after))
        }
    }
}

impl Lines {
    /// The state asked for; the database knows no text with a zero character.
    fn state(&self) -> Result<Option<String>, Problem> {
        match &self.state {
            Some(state) if state.contains('\0') => {
                let detail = "a state is one word".to_owned();
                Err(Problem::BadField {
                    pointer: "/state".to_owned(),
                    detail,
                })
            }
            state => Ok(state.clone()),
        }
    }
}

fn right_for(kind: SubjectKind) -> Right {
    if is_of_customers(kind) {
        Right::ReadCustomers
    } else {
        Right::Read
    }
}

async fn list(
    app: &App,
    session: Session,
    (kind, lines): (SubjectKind, Lines),
    request: &HttpRequest,
) -> Result<HttpResponse, Problem> {
    let after = lines.after()?;
    let state = lines.state()?;
    let limit = lines.limit.unwrap_or(PAGE).clamp(1, PAGE_MAX);
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(right_for(kind))?;
            let after = after.as_ref().map(|(label, id)| (label.as_str(), *id));
            Ok(read::list(conn, &who, kind, state.as_deref(), after, limit).await?)
        }
        .boxed()
    });
    let rows = work.await?;
    let tag = etag(version_of(&rows));
    if holds(request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag)).finish());
    }
    let list = page(&rows, limit).map_err(Problem::internal)?;
    Ok(HttpResponse::Ok().insert_header((ETAG, tag)).json(list))
}

/// The lines of a page, and where the next begins.
fn page(rows: &[Row], limit: i64) -> serde_json::Result<List> {
    let full = i64::try_from(rows.len()).is_ok_and(|rows| rows >= limit);
    let last = rows.last().filter(|_| full);
    let next = last.map(|row| serde_json::to_vec(&(row.label.as_deref().unwrap_or_default(), row.subject.id)));
    let items = rows
        .iter()
        .map(|row| row.read().map(|state| Item::of(row.subject, &state)));
    Ok(List {
        items: items.collect::<serde_json::Result<_>>()?,
        next: next.transpose()?.map(|bytes| URL_SAFE_NO_PAD.encode(bytes)),
    })
}

/// Two pages are the same if they show the same things after the same changes.
fn version_of(rows: &[Row]) -> String {
    let mut hash = Sha256::new();
    for row in rows {
        hash.update(row.subject.id.as_bytes());
        hash.update(row.changed_seq.to_be_bytes());
    }
    URL_SAFE_NO_PAD.encode(&hash.finalize()[..12])
}

/// Whether the caller holds this version already.
fn holds(request: &HttpRequest, tag: &str) -> bool {
    let held = request.headers().get(IF_NONE_MATCH);
    let held = held.and_then(|value| value.to_str().ok()).unwrap_or_default();
    held.split(',').any(|held| held.trim().trim_start_matches("W/") == tag)
}

async fn one(app: &App, session: Session, subject: Subject, request: &HttpRequest) -> Result<HttpResponse, Problem> {
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(right_for(subject.kind))?;
            // Settings are those of the operation that asks.
            let of_caller = Subject::from(who.operation);
            let subject = if subject.kind == SubjectKind::Settings {
                of_caller
            } else {
                subject
            };
            Ok(read::load_rows(conn, &who, &[subject]).await?.into_iter().next())
        }
        .boxed()
    });
    let row = work.await?.ok_or(Problem::NotFound)?;
    let tag = etag(row.changed_seq);
    if holds(request, &tag) {
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag)).finish());
    }
    let body = single(row.subject, row.label.as_deref(), &row.status, &row.state).map_err(Problem::internal)?;
    Ok(HttpResponse::Ok().insert_header((ETAG, tag)).json(body))
}

/// Declares the list of a kind and the single thing.
macro_rules! reads {
    ($($kind:ident $state:ty: $list:ident $list_path:tt $list_id:tt $list_says:tt,
        $one:ident $one_path:tt $one_id:tt $one_says:tt;)*) => {
        $(
            #[utoipa::path(tag = "things", operation_id = $list_id, summary = $list_says, security(("bearer" = [])),
                params(Lines), responses((status = 200, body = List, description = "The lines; their version in ETag"),
                    (status = 304, description = "unchanged since If-None-Match"), CommonProblems))]
            #[get($list_path)]
            pub(crate) async fn $list(
                app: web::Data<App>,
                session: Session,
                lines: web::Query<Lines>,
                request: HttpRequest,
            ) -> Result<HttpResponse, Problem> {
                list(&app, session, (SubjectKind::$kind, lines.into_inner()), &request).await
            }

            #[utoipa::path(tag = "things", operation_id = $one_id, summary = $one_says, security(("bearer" = [])),
                params(("id" = Uuid, Path, description = "which one")),
                responses((status = 200, body = $state, description = "The state, with id, kind, label and status; \
                    its version in ETag"), (status = 304, description = "unchanged since If-None-Match"), CommonProblems))]
            #[get($one_path)]
            pub(crate) async fn $one(
                app: web::Data<App>,
                session: Session,
                id: web::Path<Uuid>,
                request: HttpRequest,
            ) -> Result<HttpResponse, Problem> {
                one(&app, session, Subject { kind: SubjectKind::$kind, id: *id }, &request).await
            }
        )*

        pub(super) fn routes(cfg: &mut impl Calls) {
            $(cfg.service($list).service($one);)*
            cfg.service(settings);
        }
    };
}

reads! {
    Batch domain::batch::Batch: batches "/v1/batches" "list_batches" "Batches of jars", batch "/v1/batches/{id}" "get_batch" "One batch of jars";
    Books domain::books::Books: all_books "/v1/books" "list_books" "Work, costs, income and prices", books "/v1/books/{id}" "get_books" "Work, costs, income and prices of one set of books";
    Colony domain::colony::Colony: colonies "/v1/colonies" "list_colonies" "Colonies", colony "/v1/colonies/{id}" "get_colony" "One colony";
    Container domain::fill::Container: containers "/v1/containers" "list_containers" "Pails, buckets, tanks and drums", container "/v1/containers/{id}" "get_container" "One container";
    Customer domain::delivery::Customer: customers "/v1/customers" "list_customers" "Buyers", customer "/v1/customers/{id}" "get_customer" "One buyer";
    Delivery domain::delivery::Delivery: deliveries "/v1/deliveries" "list_deliveries" "Deliveries", delivery "/v1/deliveries/{id}" "get_delivery" "One delivery";
    Fill domain::fill::Fill: fills "/v1/fills" "list_fills" "What is in the containers", fill "/v1/fills/{id}" "get_fill" "What is in one container";
    Hive domain::hive::Hive: hives "/v1/hives" "list_hives" "Hives", hive "/v1/hives/{id}" "get_hive" "One hive";
    Lot domain::lot::Lot: lots "/v1/lots" "list_lots" "Lots", lot "/v1/lots/{id}" "get_lot" "One lot";
    Medicine domain::medicine::Medicine: medicines "/v1/medicines" "list_medicines" "The medicine cupboard", medicine "/v1/medicines/{id}" "get_medicine" "One medicine";
    Meter domain::meter::Meter: meters "/v1/meters" "list_meters" "Refractometers", meter "/v1/meters/{id}" "get_meter" "One refractometer";
    Room domain::warm_room::Room: rooms "/v1/rooms" "list_rooms" "Warm rooms", room "/v1/rooms/{id}" "get_room" "One warm room";
    Run domain::extraction::Run: runs "/v1/runs" "list_runs" "Extraction runs", run "/v1/runs/{id}" "get_run" "One extraction run";
    Scale domain::meter::Scale: scales "/v1/scales" "list_scales" "Weighing scales", scale "/v1/scales/{id}" "get_scale" "One weighing scale";
    Super domain::honey_super::Super: supers "/v1/supers" "list_supers" "Supers", honey_super "/v1/supers/{id}" "get_super" "One super";
    Yard domain::yard::Yard: yards "/v1/yards" "list_yards" "Yards", yard "/v1/yards/{id}" "get_yard" "One yard";
}

/// What the owner has settled for the whole operation; absent until something was.
#[utoipa::path(tag = "things", operation_id = "get_settings", security(("bearer" = [])),
    responses((status = 200, body = domain::settings::Settings), CommonProblems))]
#[get("/v1/settings")]
pub(crate) async fn settings(
    app: web::Data<App>,
    session: Session,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    one(
        &app,
        session,
        Subject {
            kind: SubjectKind::Settings,
            id: Uuid::nil(),
        },
        &request,
    )
    .await
}
