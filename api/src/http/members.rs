//! The people of an operation: `/v1/members`. Everybody may see them; owners decide.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, patch, post, web};
use chrono::{DateTime, Utc};
use diesel_async::AsyncConnection;
use domain::ids::MemberId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::App;
use super::body::Body;
use super::names::{Login, Name};
use super::problem::{BodyProblems, CommonProblems, Problem, ProblemBody};
use super::session::{IfMatch, Session, etag};
use crate::auth::members::{self, Added, Member, MemberChange, NewMember};
use crate::auth::{self, Right, Role, password};
use crate::config::Secret;

/// A person to enter.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct AddMember {
    /// Made by the caller, so that the call can be repeated.
    id: MemberId,
    /// How the person is called.
    #[schema(value_type = String, min_length = 1, max_length = 120)]
    name: Name<120>,
    /// What the person may do.
    role: Role,
    /// What the person types to sign in; needed with a password.
    #[schema(value_type = Option<String>, min_length = 3, max_length = 64)]
    login: Option<Login>,
    /// 15 to 256 characters; absent for people who only use an enrolled phone.
    #[schema(value_type = Option<String>, format = Password)]
    password: Option<Secret>,
}

/// What to change of a person; absent stays.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct ChangeMember {
    /// A new name.
    #[schema(value_type = Option<String>, min_length = 1, max_length = 120)]
    name: Option<Name<120>>,
    /// A new role.
    role: Option<Role>,
}

/// A person.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MemberRow {
    /// Which person.
    id: MemberId,
    /// How the person is called.
    name: String,
    /// What the person types to sign in; shown to office and owner.
    #[serde(skip_serializing_if = "Option::is_none")]
    login: Option<String>,
    /// What the person may do.
    role: Role,
    /// `active`, `pending` or `left`.
    state: String,
    /// For `If-Match`.
    version: i32,
    /// When the person was entered.
    created_at: DateTime<Utc>,
}

impl MemberRow {
    fn of(member: Member, reader: Role) -> Self {
        Self {
            id: member.id(),
            role: member.role(),
            login: member.login.filter(|_| reader.may(Right::Office)),
            name: member.name,
            state: member.state,
            version: member.version,
            created_at: member.created_at,
        }
    }

    fn answer(self, mut response: actix_web::HttpResponseBuilder) -> HttpResponse {
        response.insert_header((ETAG, etag(self.version))).json(self)
    }
}

/// People, all of them.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Members {
    /// In the order they came.
    items: Vec<MemberRow>,
}

/// Lists the people.
#[utoipa::path(tag = "members", operation_id = "list_members", security(("bearer" = [])), responses((status = 200, body = Members), CommonProblems))]
#[get("/v1/members")]
pub(crate) async fn list(app: web::Data<App>, session: Session) -> Result<web::Json<Members>, Problem> {
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may(Right::Read)?;
            let rows = members::list(conn).await?;
            let items = rows.into_iter().map(|member| MemberRow::of(member, who.role)).collect();
            Ok::<_, Problem>(Members { items })
        })
        .await
    });
    work.await.map(web::Json)
}

/// Enters a person. Wants the password within the last five minutes.
#[utoipa::path(tag = "members", security(("bearer" = [])), request_body = AddMember, responses(
    (status = 201, body = MemberRow), (status = 200, description = "It was entered before", body = MemberRow),
    (status = 409, description = "The id is somebody else's", body = ProblemBody,
     content_type = "application/problem+json"), CommonProblems, BodyProblems))]
#[post("/v1/members")]
pub(crate) async fn add(app: web::Data<App>, session: Session, body: Body<AddMember>) -> Result<HttpResponse, Problem> {
    let wish = body.0;
    // The slow hash is not for everybody to ask for, and not made inside a transaction.
    let business = super::devices::permitted(&app, &session, Right::Owner).await?;
    let password_hash = hashed(&app, &wish, &business).await?;
    let new = NewMember {
        id: wish.id,
        name: wish.name.into(),
        login: wish.login.map(String::from),
        role: wish.role,
        password_hash,
    };
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may_now(Right::Owner)?;
            Ok::<_, Problem>((members::add(conn, &who, &new).await?, who.role))
        })
        .await
    });
    match work.await? {
        (Added::New(member), role) => Ok(MemberRow::of(member, role).answer(HttpResponse::Created())),
        (Added::Same(member), role) => Ok(MemberRow::of(member, role).answer(HttpResponse::Ok())),
        (Added::IdReused, _) => Err(Problem::IdReused),
    }
}

async fn hashed(app: &App, wish: &AddMember, business: &str) -> Result<Option<String>, Problem> {
    let Some(new) = &wish.password else {
        return Ok(None);
    };
    let Some(Login { .. }) = &wish.login else {
        let detail = "a password needs a login".to_owned();
        return Err(Problem::BadField {
            pointer: "/login".to_owned(),
            detail,
        });
    };
    let login = wish.login.clone().map(String::from).unwrap_or_default();
    password::acceptable(new, &[business, wish.name.as_str(), &login])?;
    Ok(Some(app.hasher.hash(new).await?))
}

/// Changes a person's name or role. The last owner stays one. Wants the password within the last five minutes.
#[utoipa::path(tag = "members", security(("bearer" = [])), request_body = ChangeMember,
    params(("id" = Uuid, Path, description = "Which person"),
           ("If-Match" = String, Header, description = "The version this is based on, in quotes")),
    responses((status = 200, body = MemberRow),
        (status = 412, description = "Somebody was faster", body = ProblemBody,
         content_type = "application/problem+json"),
        (status = 428, description = "No If-Match", body = ProblemBody, content_type = "application/problem+json"),
        CommonProblems, BodyProblems))]
#[patch("/v1/members/{id}")]
pub(crate) async fn change(
    app: web::Data<App>,
    session: Session,
    id: web::Path<Uuid>,
    based_on: IfMatch,
    body: Body<ChangeMember>,
) -> Result<HttpResponse, Problem> {
    let id = MemberId::from_uuid(id.into_inner());
    let Body(ChangeMember { name, role }) = body;
    let wish = MemberChange {
        version: based_on.version()?,
        name: name.map(String::from),
        role,
    };
    let mut conn = app.db.connection().await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let who = auth::enter(conn, &session).await?;
            who.may_now(Right::Owner)?;
            Ok::<_, Problem>(MemberRow::of(members::change(conn, &who, id, &wish).await?, who.role))
        })
        .await
    });
    Ok(work.await?.answer(HttpResponse::Ok()))
}
