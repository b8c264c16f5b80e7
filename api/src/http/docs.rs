//! The contract and a page to try it, both out of the binary.

use actix_web::HttpResponse;
use actix_web::http::header::ContentType;
use actix_web::web::{self, Redirect, ServiceConfig};
use utoipa_swagger_ui::{Config, SwaggerUi};

use super::calls::CONTRACT;

const ADDRESS: &str = "/openapi.json";

/// Adds `/openapi.json` and `/docs`.
pub(super) fn serve(cfg: &mut ServiceConfig) {
    cfg.route(ADDRESS, web::get().to(contract));
    cfg.service(Redirect::new("/docs", "/docs/"));
    cfg.service(SwaggerUi::new("/docs/{_:.*}").config(Config::from(ADDRESS)));
}

async fn contract() -> HttpResponse {
    HttpResponse::Ok().content_type(ContentType::json()).body(CONTRACT)
}
