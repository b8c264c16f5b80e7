//! The contract and a page to try it, both out of the binary.

use actix_web::web::{Redirect, ServiceConfig};
use utoipa::openapi::OpenApi as Contract;
use utoipa_swagger_ui::SwaggerUi;

/// Adds `/openapi.json` and `/docs`.
pub(super) fn serve(cfg: &mut ServiceConfig, contract: Contract) {
    cfg.service(Redirect::new("/docs", "/docs/"));
    cfg.service(SwaggerUi::new("/docs/{_:.*}").url("/openapi.json", contract));
}
