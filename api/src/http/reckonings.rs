//! Computations by name: what there is, what each asks, and the answer. They need no business, only a session.

use actix_web::{get, post, web};
use domain::reckon::{self, Refusal};
use futures_util::FutureExt;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::openapi::OpenApi;
use utoipa::{IntoParams, ToSchema};

use super::calls::Calls;
use crate::auth::Right;
use crate::http::problem::{BodyProblems, CommonProblems, Problem};
use crate::http::{App, Body, Session};

const ANSWERS: &str = "/v1/reckonings/{name}";

pub(super) fn routes(cfg: &mut impl Calls) {
    cfg.service(list).service(describe).service(answer);
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        match refusal.code {
            "unknown_computation" => Self::NotFound,
            _ => Self::BadField {
                pointer: refusal.pointer,
                detail: refusal.sentence,
            },
        }
    }
}

async fn may_ask(app: &App, session: Session) -> Result<(), Problem> {
    let may = app.snapshot(&session, |_, who| async move { Ok(who.may(Right::Read)?) }.boxed());
    may.await
}

/// Every computation, with what it asks and answers, its sources, and how far it holds.
#[utoipa::path(tag = "reckonings", operation_id = "list_reckonings", security(("bearer" = [])),
    responses((status = 200, body = Object), CommonProblems))]
#[get("/v1/reckonings")]
pub(crate) async fn list(app: web::Data<App>, session: Session) -> Result<web::Json<Value>, Problem> {
    may_ask(&app, session).await?;
    Ok(web::Json(reckon::describe()))
}

/// One computation, with what it asks and answers, its sources, and how far it holds.
#[utoipa::path(tag = "reckonings", operation_id = "describe_reckoning", security(("bearer" = [])),
    params(("name" = String, Path, description = "which one")),
    responses((status = 200, body = Object), CommonProblems))]
#[get("/v1/reckonings/{name}")]
pub(crate) async fn describe(
    app: web::Data<App>,
    session: Session,
    name: web::Path<String>,
) -> Result<web::Json<Value>, Problem> {
    may_ask(&app, session).await?;
    Ok(web::Json(reckon::named(&name)?.describe()))
}

/// How to answer.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct How {
    /// Whether to say where the figures come from.
    #[serde(default)]
    sources: bool,
}

/// The answer of a computation.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Reckoned {
    /// Whole numbers, the unit last in each name.
    #[schema(value_type = Object)]
    answer: Value,
    /// What to heed while doing what the answer is for, where it can hurt somebody.
    #[serde(skip_serializing_if = "Option::is_none")]
    caution: Option<&'static str>,
    /// How far the answer holds, its rules and the published sources of its figures; only if asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    stands_on: Option<Value>,
}

/// Works something out. The input is an object with the fields that the computation asks.
#[utoipa::path(tag = "reckonings", operation_id = "reckon", security(("bearer" = [])),
    params(("name" = String, Path, description = "which computation"), How), request_body = Object,
    responses((status = 200, body = Reckoned), CommonProblems, BodyProblems))]
#[post("/v1/reckonings/{name}")]
pub(crate) async fn answer(
    app: web::Data<App>,
    session: Session,
    name: web::Path<String>,
    how: web::Query<How>,
    body: Body<Value>,
) -> Result<web::Json<Reckoned>, Problem> {
    may_ask(&app, session).await?;
    let computation = reckon::named(&name)?;
    Ok(web::Json(Reckoned {
        answer: computation.reckon(&body.0)?,
        caution: computation.caution,
        stands_on: how.sources.then(|| {
            let mut told = computation.describe();
            if let Some(told) = told.as_object_mut() {
                told.retain(|field, _| matches!(field.as_str(), "sources" | "rules" | "holds"));
            }
            told
        }),
    }))
}

/// Lists the computations in the contract, so that field apps find them there.
pub(super) fn list_in(contract: &mut OpenApi) {
    let mut told = String::from(
        "Works something out. The input is an object with the fields that the computation asks; every name ends in \
         its unit.\n",
    );
    for computation in reckon::all() {
        let mut asks = Vec::new();
        for field in computation.inputs {
            asks.push(format!(
                "`{}`{} ({})",
                field.name,
                if field.required { "" } else { "?" },
                field.unit
            ));
        }
        told.push_str(&format!(
            "\n- `{}`: {} Asks {}.",
            computation.name,
            computation.does,
            asks.join(", ")
        ));
    }
    let post = contract
        .paths
        .paths
        .get_mut(ANSWERS)
        .and_then(|path| path.post.as_mut());
    if let Some(post) = post {
        post.description = Some(told);
    }
}
