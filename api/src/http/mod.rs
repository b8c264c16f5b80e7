//! The outside of the service: every path in one list, and what surrounds them.
//!
//! A handler reads the request, opens one transaction, asks the other rooms, and answers. It holds no rule of the
//! trade and no SQL.

mod access;
mod auth;
pub mod body;
pub mod calls;
mod devices;
mod docs;
mod doorstep;
mod downloads;
mod entries;
mod erasures;
mod hand_in;
mod health;
mod labels;
mod large;
mod members;
pub mod names;
mod office;
mod photos;
pub mod problem;
mod reckonings;
mod refusals;
mod requests;
pub mod session;
mod sync;
mod web;

use std::sync::OnceLock;

use actix_web::dev::{ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App as ActixApp, HttpRequest, HttpResponse, web as actix};
use diesel_async::AsyncPgConnection;
use futures_util::future::BoxFuture;
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Contract;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa_actix_web::AppExt;

pub use body::Body;
pub use calls::Calls;
pub(crate) use large::LargeBodies;
pub use problem::Problem;
pub use session::{IfMatch, Session, etag};

use crate::auth::Who;
use crate::auth::keys::Keys;
use crate::auth::password::Hasher;
use crate::config::Config;
use crate::database::Database;
use crate::ledger::lanes::{Lanes, Writer};
use crate::ledger::waiters::Waiters;
use crate::photos::Photos;
use crate::tls::Access;

/// What every handler can reach.
pub struct App {
    /// The settings.
    pub config: Config,
    /// The database.
    pub db: Database,
    /// The keys of the tokens.
    pub keys: Keys,
    /// The hasher of passwords.
    pub hasher: Hasher,
    /// The figures.
    pub metrics: PrometheusHandle,
    /// Who waits for news.
    pub(crate) waiters: Waiters,
    /// Large bodies on their way.
    pub(crate) large: LargeBodies,
    /// Who writes for whom, one after the other.
    pub(crate) lanes: Lanes,
    /// How other machines reach the service.
    pub access: Access,
    /// Where photos are kept.
    pub photos: Photos,
}

impl App {
    /// A connection to write with, in turn with others of the same business; who waits for it holds so many bytes.
    async fn writer(&self, session: &Session, holds: usize) -> Result<Writer, Problem> {
        Ok(self
            .lanes
            .writer(&self.db, session, session.session.uuid(), holds)
            .await?)
    }

    /// Reads in one snapshot as whoever asks, and to its end even if the caller hangs up.
    async fn snapshot<T, F>(&self, session: &Session, read: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: for<'a> FnOnce(&'a mut AsyncPgConnection, Who) -> BoxFuture<'a, Result<T, Problem>> + Send + 'static,
    {
        let (mut conn, session) = (self.db.connection().await?, session.clone());
        let work = self.db.detached(async move {
            let mut snapshot = conn.build_transaction().repeatable_read().read_only();
            snapshot
                .run(async |conn| {
                    let who = crate::auth::enter(conn, &session).await?;
                    read(conn, who).await
                })
                .await
        });
        work.await
    }
}

/// Every path there is, in one list.
pub fn routes<C: Calls>(cfg: &mut C) {
    cfg.service(health::live)
        .service(health::ready)
        .service(health::metrics)
        .service(auth::sign_in)
        .service(auth::enrol)
        .service(auth::refresh)
        .service(auth::leave)
        .service(auth::confirm)
        .service(auth::me)
        .service(members::list)
        .service(members::add)
        .service(members::change)
        .service(devices::list)
        .service(devices::make_code)
        .service(devices::revoke)
        .service(access::read)
        .service(access::make_qr)
        .service(labels::make)
        .service(sync::push)
        .service(sync::pull)
        .service(sync::limits)
        .service(sync::entries)
        .service(entries::of_thing)
        .service(downloads::wait)
        .service(downloads::begin)
        .service(downloads::read_part)
        .service(hand_in::take_outbox)
        .service(hand_in::list_refused)
        .service(erasures::erase)
        .service(photos::begin)
        .service(photos::go_on)
        .service(photos::read);
    office::routes(cfg);
    reckonings::routes(cfg);
}

#[derive(OpenApi)]
#[openapi(
    info(
        title = "yardjar",
        description = "Follows honey from hive to jar, over many yards.",
        contact()
    ),
    components(schemas(problem::ProblemBody))
)]
struct Base;

fn base() -> Contract {
    let mut contract = Base::openapi();
    contract.info.version = env!("CARGO_PKG_VERSION").to_owned();
    contract.info.contact = None;
    let bearer = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .bearer_format("JWT")
        .build();
    let components = contract.components.get_or_insert_default();
    components.add_security_scheme("bearer", SecurityScheme::Http(bearer));
    contract
}

/// The contract, without a server.
#[must_use]
pub fn contract() -> Contract {
    let mut contract = ActixApp::new()
        .into_utoipa_app()
        .openapi(base())
        .configure(|cfg| routes(cfg))
        .split_for_parts()
        .1;
    reckonings::list_in(&mut contract);
    contract
}

/// The whole application for one worker.
pub(crate) fn application(
    app: actix::Data<App>,
) -> ActixApp<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl actix_web::body::MessageBody>,
        Error = actix_web::Error,
        InitError = (),
    >,
> {
    let docs = app.config.docs;
    ActixApp::new()
        .configure(routes::<actix::ServiceConfig>)
        .app_data(app)
        .app_data(actix::PathConfig::default().error_handler(|_, _| Problem::NotFound.into()))
        .app_data(actix::QueryConfig::default().error_handler(|error, _| {
            Problem::BadField {
                pointer: String::new(),
                detail: error.to_string(),
            }
            .into()
        }))
        .configure(web::serve)
        .configure(doorstep::serve)
        .configure(|cfg| {
            if docs {
                docs::serve(cfg);
            }
        })
        .default_service(actix::to(nothing_here))
        .wrap(Compress::default())
        .wrap(from_fn(requests::around))
}

/// What plain HTTP from another machine gets instead, where TLS is spoken.
pub(crate) fn doorstep(
    app: actix::Data<App>,
) -> ActixApp<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl actix_web::body::MessageBody>,
        Error = actix_web::Error,
        InitError = (),
    >,
> {
    ActixApp::new()
        .app_data(app)
        .app_data(requests::Doorstep)
        .configure(doorstep::serve_only)
        .wrap(from_fn(requests::around))
}

/// Where no handler fits: the method is another, or there is nothing at all.
async fn nothing_here(request: HttpRequest) -> Result<HttpResponse, Problem> {
    let allow = request.match_pattern().and_then(|pattern| calls::offered(&pattern));
    Err(allow.map_or(Problem::NotFound, |allow| Problem::MethodNotAllowed {
        allow: allow.to_owned(),
    }))
}

/// The recorder of figures is one per process, however many servers a test starts.
///
/// # Errors
/// When another recorder was installed before.
pub(crate) fn recorder() -> Result<PrometheusHandle, String> {
    static HANDLE: OnceLock<Result<PrometheusHandle, String>> = OnceLock::new();
    HANDLE
        .get_or_init(|| {
            PrometheusBuilder::new()
                .install_recorder()
                .map_err(|error| error.to_string())
        })
        .clone()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_contract_names_us_and_nobody_else() {
        let contract = contract();
        assert_eq!(contract.info.title, "yardjar");
        assert!(contract.info.contact.is_none());
        assert!(contract.paths.paths.contains_key("/v1/auth/sign-in"));
    }

    #[test]
    fn every_refusal_in_the_contract_is_a_problem_document() {
        let contract = serde_json::to_value(contract()).unwrap();
        let mut seen = 0;
        for (path, methods) in contract["paths"].as_object().unwrap() {
            for (method, call) in methods.as_object().unwrap() {
                for (status, response) in call["responses"].as_object().unwrap() {
                    if status.starts_with(['4', '5']) {
                        seen += 1;
                        let content = &response["content"];
                        assert!(content.get(problem::MEDIA_TYPE).is_some(), "{method} {path} {status}");
                    }
                }
            }
        }
        assert!(seen > 50);
    }
}
