//! Every call with every kind of credential: who is let through is written here, and nowhere else.
//!
//! A call that is not listed fails the test until somebody has thought about who may make it.

use anyhow::Result;
use api::auth::Role;
use reqwest::Method;
use tests::{Answer, Client, Forgery, Service, forge};
use uuid::Uuid;

use crate::contract::{Call, calls};

/// Who may make a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Class {
    /// Everybody; no token is looked at.
    Open,
    /// Whoever has a session, even on a device that has left.
    Session,
    /// Whoever has a password and is signed in with it.
    Password,
    Read,
    ReadCustomers,
    Push,
    Office,
    Owner,
}

/// One call: who may make it, and a request that reads, so that the door is what answers.
///
/// In `query` and `body`, `{operation}`, `{member}` and `{device}` are those of the first business when a stranger
/// calls, and nobody's otherwise; so are the ids in the path. `{new}` is a new id each time.
struct Door {
    name: &'static str,
    class: Class,
    query: &'static str,
    body: &'static str,
}

const fn door(name: &'static str, class: Class, body: &'static str) -> Door {
    Door {
        name,
        class,
        query: "",
        body,
    }
}

/// The least that is an entry; of an unknown kind, so it is kept for everybody who may push.
const PUSH: &str = r#"{ "operation_id": "{operation}", "sent_at": "2026-05-01T10:00:00Z", "entries": [{
    "id": "{new}", "kind": "unheard_of", "v": 1, "data": {}, "happened_at": "2026-05-01T09:00:00Z",
    "utc_offset_min": 120, "happened_src": "clock", "device_counter": 1, "saw": 0,
    "salt": "00112233445566778899aabbccddeeff" }] }"#;

const LISTED: &[Door] = &[
    door("GET /health/live", Class::Open, ""),
    door("GET /health/ready", Class::Open, ""),
    door("GET /metrics", Class::Open, ""),
    door(
        "POST /v1/auth/sign-in",
        Class::Open,
        r#"{ "login": "{new}", "password": "a password of nobody", "device_name": "Here" }"#,
    ),
    door(
        "POST /v1/auth/enrolments",
        Class::Open,
        r#"{ "code": "2222-22222-22222" }"#,
    ),
    door(
        "POST /v1/auth/refresh",
        Class::Open,
        r#"{ "refresh_token": "none", "device_secret": "none" }"#,
    ),
    door(
        "POST /v1/auth/confirmations",
        Class::Password,
        r#"{ "password": "linden over the river 9" }"#,
    ),
    door("GET /v1/me", Class::Read, ""),
    door("GET /v1/members", Class::Read, ""),
    door(
        "POST /v1/members",
        Class::Owner,
        r#"{ "id": "{new}", "name": "Dora", "role": "field" }"#,
    ),
    door("PATCH /v1/members/{id}", Class::Owner, r#"{ "name": "Eve" }"#),
    door("GET /v1/devices", Class::Office, ""),
    door(
        "POST /v1/devices/codes",
        Class::Office,
        r#"{ "member_id": "{member}", "device_name": "Phone" }"#,
    ),
    door(
        "POST /v1/devices/{id}/revocations",
        Class::Office,
        r#"{ "kind": "lost" }"#,
    ),
    door("POST /v1/sync/push", Class::Push, PUSH),
    door("GET /v1/sync/pull", Class::Read, ""),
    door("GET /v1/sync/limits", Class::Session, ""),
    // The entries as they were sent name customers and prices.
    door("GET /v1/ledger", Class::ReadCustomers, ""),
    // Ends the session it is made with, so it comes last.
    door("POST /v1/auth/leave", Class::Session, ""),
];

/// With what somebody comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Credential {
    Nothing,
    Garbage,
    Forged(Forgery),
    Left,
    Lost,
    Of(Role),
}

const CREDENTIALS: &[Credential] = &[
    Credential::Nothing,
    Credential::Garbage,
    Credential::Forged(Forgery::Expired),
    Credential::Forged(Forgery::OtherKey),
    Credential::Forged(Forgery::AlgNone),
    Credential::Forged(Forgery::OtherType),
    Credential::Left,
    Credential::Lost,
    Credential::Of(Role::Viewer),
    Credential::Of(Role::Field),
    Credential::Of(Role::Office),
    Credential::Of(Role::Owner),
];

/// What the door does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// Whatever comes then, it is neither 401 nor 403.
    LetThrough,
    /// The same as for somebody who shows nothing.
    NotLookedAt,
    /// 401: who are you?
    Unknown,
    /// 403: not you.
    Refused,
    /// 401 or 403: there is no password to compare with.
    NoPassword,
}

/// The table of the security paper.
fn expected(class: Class, credential: Credential) -> Outcome {
    use Class::{Office, Open, Owner, Password, Push, Read, ReadCustomers, Session};
    let allowed: &[Class] = match credential {
        _ if class == Open => return Outcome::NotLookedAt,
        Credential::Nothing | Credential::Garbage | Credential::Forged(_) => {
            return Outcome::Unknown;
        }
        Credential::Lost => &[],
        Credential::Left => &[Session, Push],
        Credential::Of(Role::Viewer) => &[Session, Read, ReadCustomers],
        Credential::Of(Role::Field) => &[Session, Read, Push],
        Credential::Of(Role::Office) => &[Session, Password, Read, ReadCustomers, Push, Office],
        Credential::Of(Role::Owner) => &[Session, Password, Read, ReadCustomers, Push, Office, Owner],
    };
    if allowed.contains(&class) {
        Outcome::LetThrough
    } else if class == Password {
        Outcome::NoPassword
    } else {
        Outcome::Refused
    }
}

fn listed(name: &str) -> Option<&'static Door> {
    LISTED.iter().find(|door| door.name == name)
}

/// Every call with its door, in the order of the list.
fn doors() -> Vec<(Call, &'static Door)> {
    let mut doors: Vec<_> = calls()
        .into_iter()
        .filter_map(|call| listed(&call.name).map(|door| (call, door)))
        .collect();
    doors.sort_by_key(|(_, door)| LISTED.iter().position(|listed| listed.name == door.name));
    doors
}

#[test]
fn every_call_is_listed_and_every_listed_call_exists() {
    let calls = calls();
    let unlisted: Vec<&str> = calls
        .iter()
        .map(|call| call.name.as_str())
        .filter(|name| listed(name).is_none())
        .collect();
    assert!(
        unlisted.is_empty(),
        "say in doors.rs who may make these calls: {unlisted:#?}"
    );
    for door in LISTED {
        assert!(
            calls.iter().any(|call| call.name == door.name),
            "{} does not exist (any more)",
            door.name
        );
        let is_open = crate::contract::OPEN.contains(&door.name);
        assert_eq!(
            is_open,
            door.class == Class::Open,
            "{}: the contract says otherwise",
            door.name
        );
    }
}

/// Whose ids a request names.
struct Ids {
    operation: Uuid,
    member: Uuid,
    device: Uuid,
}

impl Ids {
    fn of(client: &Client) -> Result<Self> {
        let held = client.held()?;
        Ok(Self {
            operation: held.operation,
            member: held.member,
            device: held.device,
        })
    }

    fn nobodys(operation: Uuid) -> Self {
        let (member, device) = (Uuid::now_v7(), Uuid::now_v7());
        Self {
            operation,
            member,
            device,
        }
    }

    fn filled(&self, text: &str) -> String {
        text.replace("{operation}", &self.operation.to_string())
            .replace("{member}", &self.member.to_string())
            .replace("{device}", &self.device.to_string())
            .replace("{new}", &Uuid::now_v7().to_string())
    }

    /// What an id in a path means follows from the word before it.
    fn path(&self, template: &str) -> String {
        let mut path = String::new();
        let mut before = "";
        for piece in template.split('/').skip(1) {
            path.push('/');
            match (piece.starts_with('{'), before) {
                (false, _) => path.push_str(piece),
                (true, "members") => path.push_str(&self.member.to_string()),
                (true, "devices") => path.push_str(&self.device.to_string()),
                (true, _) => path.push_str(&Uuid::now_v7().to_string()),
            }
            before = piece;
        }
        path
    }
}

async fn knock(client: &Client, call: &Call, door: &Door, ids: &Ids) -> Result<Answer> {
    let path = format!("{}{}", ids.path(&call.path), ids.filled(door.query));
    let body = ids.filled(door.body);
    let method: Method = call.method.parse()?;
    let shape = |request: reqwest::RequestBuilder| {
        let request = request.header("if-match", "\"1\"");
        if body.is_empty() {
            request
        } else {
            request.header("content-type", "application/json").body(body)
        }
    };
    client.raw(method, &path, shape).await
}

async fn bearer(service: &Service, credential: Credential) -> Result<Client> {
    let owner = service.owner();
    let good = owner.held()?.access.clone();
    Ok(match credential {
        Credential::Nothing => service.stranger(),
        Credential::Garbage => owner.with_access("honey"),
        Credential::Forged(forgery) => owner.with_access(&forge(service, &good, forgery)?),
        Credential::Of(role) => service.member(role).await?,
        Credential::Left | Credential::Lost => {
            let phone = service.phone(Role::Field).await?.client;
            let kind = if credential == Credential::Left { "left" } else { "lost" };
            service.operation.revoke(phone.held()?.device, kind).await?;
            phone
        }
    })
}

/// Problems that are about the token and nothing else.
fn is_about_the_token(answer: &Answer) -> bool {
    let kinds = [
        "unauthorized",
        "token-expired",
        "device-revoked",
        "forbidden",
        "confirmation-needed",
    ];
    kinds.iter().any(|kind| answer.json["type"] == *kind)
}

#[tokio::test]
async fn every_door_opens_for_whom_it_should_and_for_nobody_else() -> Result<()> {
    let service = Service::start().await?;
    let ids = Ids::nobodys(service.operation.id);
    let (mut faults, mut tried) = (Vec::new(), 0);
    for credential in CREDENTIALS {
        let client = bearer(&service, *credential).await?;
        for (call, door) in doors() {
            tried += 1;
            let answer = knock(&client, &call, door, &ids).await?;
            let outcome = expected(door.class, *credential);
            let as_expected = match outcome {
                Outcome::LetThrough => ![401, 403].contains(&answer.status),
                Outcome::NotLookedAt => !is_about_the_token(&answer),
                Outcome::Unknown => answer.status == 401 && is_about_the_token(&answer),
                Outcome::Refused => answer.status == 403 && is_about_the_token(&answer),
                Outcome::NoPassword => [401, 403].contains(&answer.status),
            };
            if !as_expected || answer.status >= 500 {
                faults.push(format!(
                    "{} with {credential:?}: {outcome:?} was expected, {} {}",
                    door.name, answer.status, answer.text
                ));
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    assert_eq!(tried, CREDENTIALS.len() * LISTED.len());
    Ok(())
}

#[tokio::test]
async fn the_owner_of_another_business_finds_nothing_of_this_one() -> Result<()> {
    let service = Service::start().await?;
    let phone = service.phone(Role::Field).await?.client;
    let ids = Ids::of(&phone)?;
    let foreign = service.other_operation().await?.owner();
    let mut faults = Vec::new();
    for (call, door) in doors().into_iter().filter(|(_, door)| door.class != Class::Open) {
        let answer = knock(&foreign, &call, door, &ids).await?;
        let names_ids = door.name.contains('{') || door.body.contains("{member}") || door.body.contains("{device}");
        let as_expected = match door.class {
            Class::Push => answer.is_problem(403, "wrong-operation"),
            _ if names_ids => answer.is_problem(404, "not-found"),
            _ => answer.status < 400,
        };
        let shown = [ids.operation, ids.member, ids.device].map(|id| id.to_string());
        let shows = shown.iter().any(|id| answer.text.contains(id));
        if !as_expected || shows {
            faults.push(format!("{}: {} {}", door.name, answer.status, answer.text));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    phone.get("/v1/me").await?.expect_status(200)?;
    Ok(())
}
