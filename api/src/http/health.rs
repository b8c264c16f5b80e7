//! Whether the process lives, whether it can serve, and its figures.

use actix_web::http::header::{ContentType, FORWARDED};
use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;

use super::App;
use super::problem::{Problem, ProblemBody};
use crate::database;

/// How the service stands.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Health {
    /// `live` or `ready`.
    #[schema(example = "ready")]
    status: &'static str,
}

/// The process answers.
#[utoipa::path(tag = "health", responses((status = 200, body = Health)))]
#[get("/health/live")]
pub(crate) async fn live() -> web::Json<Health> {
    web::Json(Health { status: "live" })
}

/// The database can be written and has this program's schema.
#[utoipa::path(tag = "health", responses(
    (status = 200, body = Health),
    (status = 503, body = ProblemBody, content_type = "application/problem+json"),
))]
#[get("/health/ready")]
pub(crate) async fn ready(app: web::Data<App>) -> Result<web::Json<Health>, Problem> {
    let mut conn = app.db.connection().await?;
    let good = database::is_writable(&mut conn).await? && database::is_current(&mut conn).await?;
    if good {
        Ok(web::Json(Health { status: "ready" }))
    } else {
        Err(Problem::busy("the database is a standby or has an older schema"))
    }
}

/// Figures for a collector on the same machine; to everybody else there is nothing here.
#[utoipa::path(tag = "health", responses(
    (status = 200, body = String, content_type = "text/plain"),
    (status = 404, body = ProblemBody, content_type = "application/problem+json"),
))]
#[get("/metrics")]
pub(crate) async fn metrics(app: web::Data<App>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    // A proxy on this machine is a loopback peer as well, so whatever was forwarded counts as from outside.
    let forwarded = request.headers().contains_key(FORWARDED) || request.headers().contains_key("x-forwarded-for");
    let near = request.peer_addr().is_some_and(|peer| peer.ip().is_loopback());
    if forwarded || !near {
        return Err(Problem::NotFound);
    }
    let pool = app.db.status();
    #[expect(clippy::cast_precision_loss, reason = "a pool has at most 200 connections")]
    for (state, count) in [("open", pool.size), ("idle", pool.available), ("waiting", pool.waiting)] {
        ::metrics::gauge!("database_connections", "state" => state).set(count as f64);
    }
    #[expect(clippy::cast_precision_loss, reason = "there are 2,000 seats")]
    ::metrics::gauge!("waiting_for_news").set(app.waiters.count() as f64);
    app.metrics.run_upkeep();
    Ok(HttpResponse::Ok()
        .content_type(ContentType::plaintext())
        .body(app.metrics.render()))
}
