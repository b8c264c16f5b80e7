//! Every call with every kind of credential: who is let through is written here, and nowhere else.
//!
//! A call that is not listed fails the test until somebody has thought about who may make it.

use std::borrow::Cow;
use std::sync::LazyLock;

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
    /// Tells the office's calls what happened: whoever may push, but not from a device that has left.
    Write,
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
    body: Cow<'static, str>,
}

const fn door(name: &'static str, class: Class, body: &'static str) -> Door {
    Door {
        name,
        class,
        query: "",
        body: Cow::Borrowed(body),
    }
}

/// A question that everybody who reads may ask, in the query.
const fn asked(name: &'static str, query: &'static str) -> Door {
    Door {
        name,
        class: Class::Read,
        query,
        body: Cow::Borrowed(""),
    }
}

/// The least that is an entry; of an unknown kind, so it is kept for everybody who may push.
const PUSH: &str = r#"{ "operation_id": "{operation}", "sent_at": "2026-05-01T10:00:00Z", "entries": [{
    "id": "{new}", "kind": "unheard_of", "v": 1, "data": {}, "happened_at": "2026-05-01T09:00:00Z",
    "utc_offset_min": 120, "happened_src": "clock", "device_counter": 1, "saw": 0,
    "salt": "00112233445566778899aabbccddeeff" }] }"#;

const OUTBOX: &str = r#"{ "outbox": 1, "operation_id": "{operation}", "device_id": "{device}" }"#;
const PHOTO: &str = r#"{ "sha256": "0000000000000000000000000000000000000000000000000000000000000000" }"#;

const LABELS: &str = r#"{ "numbers": ["041"], "address": "https://honey.local", "sheet": { "paper": "a4", "columns": 3,
    "rows": 8, "width": 700, "height": 370, "left": 0, "top": 5, "across": 700, "down": 370, "margin": 30 } }"#;

const BY_HAND: &[Door] = &[
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
    door("GET /v1/access", Class::Read, ""),
    door("POST /v1/qr-codes", Class::Read, r#"{ "text": "041" }"#),
    door("POST /v1/label-sheets", Class::Read, LABELS),
    door("POST /v1/sync/push", Class::Push, PUSH),
    door("GET /v1/sync/pull", Class::Read, ""),
    door("GET /v1/sync/limits", Class::Session, ""),
    asked("GET /v1/sync/wait", "?seconds=0"),
    door("GET /v1/sync/snapshot", Class::Read, ""),
    asked("GET /v1/sync/snapshot/{seq}/{part}", ""),
    door("POST /v1/sync/outboxes", Class::Office, OUTBOX),
    door("GET /v1/refused-entries", Class::Office, ""),
    door("POST /v1/entries/{id}/erasures", Class::Owner, r#"{ "why": "asked" }"#),
    door("POST /v1/photos", Class::Write, PHOTO),
    Door {
        name: "PATCH /v1/photos/{sha256}",
        class: Class::Write,
        query: "?offset=0&of=1",
        body: Cow::Borrowed("x"),
    },
    asked("GET /v1/photos/{sha256}", ""),
    // The entries as they were sent name customers and prices.
    door("GET /v1/ledger", Class::ReadCustomers, ""),
    Door {
        name: "GET /v1/entries",
        class: Class::ReadCustomers,
        query: "?kind=hive&id=00000000-0000-4000-8000-000000000001",
        body: Cow::Borrowed(""),
    },
    door("GET /v1/settings", Class::Read, ""),
    asked("GET /v1/yields", "?season=2026"),
    door("GET /v1/seasons/{year}/yards", Class::Read, ""),
    door("GET /v1/seasons/{year}/colonies", Class::Read, ""),
    door("GET /v1/seasons/{year}/balance", Class::Read, ""),
    // Costs are prices.
    door("GET /v1/seasons/{year}/costs", Class::ReadCustomers, ""),
    door("GET /v1/seasons/{year}/moisture", Class::Read, ""),
    door("GET /v1/seasons/{year}/harvest", Class::Read, ""),
    door("GET /v1/seasons/{year}/forecast", Class::Read, ""),
    door("GET /v1/seasons/{year}/context", Class::Read, ""),
    asked("GET /v1/yard-factors", "?from=2024&to=2026"),
    asked("GET /v1/queen-lines", "?from=2024&to=2026"),
    asked("GET /v1/trace", "?code=26-001-A"),
    asked("GET /v1/recall", "?day=2026-05-01"),
    door("GET /v1/lots/{id}/trace", Class::Read, ""),
    door("GET /v1/batches/{id}/trace", Class::Read, ""),
    door("GET /v1/hives/{id}/trace", Class::Read, ""),
    door("GET /v1/supers/{id}/trace", Class::Read, ""),
    door("GET /v1/house/next", Class::Read, ""),
    door("GET /v1/house/extraction-order", Class::Read, ""),
    door("GET /v1/flags", Class::Read, ""),
    door("GET /v1/registers/store-places", Class::Read, ""),
    door("GET /v1/reckonings", Class::Read, ""),
    door("GET /v1/reckonings/{name}", Class::Read, ""),
    door("POST /v1/reckonings/{name}", Class::Read, "{}"),
    door("GET /v1/holds", Class::Read, ""),
    door("GET /v1/holds/{id}", Class::Read, ""),
    door("GET /v1/registers/medicines", Class::Read, ""),
    door("GET /v1/registers/feed", Class::Read, ""),
    door(
        "POST /v1/entries/{id}/amendments",
        Class::Write,
        r#"{ "v": 1, "data": {} }"#,
    ),
    door(
        "POST /v1/entries/{id}/voids",
        Class::Write,
        r#"{ "reason": "did not happen" }"#,
    ),
    door("POST /v1/settings/profiles", Class::Office, r#"{ "profile": "eu" }"#),
    door(
        "POST /v1/settings/house-limits",
        Class::Office,
        r#"{ "moisture_hundredths": 1800 }"#,
    ),
    door(
        "POST /v1/settings/regions",
        Class::Office,
        r#"{ "country": "US", "region": "Montana" }"#,
    ),
    door(
        "POST /v1/settings/plans",
        Class::Office,
        r#"{ "season": 2027, "colonies": 60 }"#,
    ),
    door("GET /v1/settings/profile", Class::Read, ""),
    door("GET /v1/batches/{id}/label-fields", Class::Read, ""),
    door(
        "POST /v1/settings/profile-values",
        Class::Office,
        r#"{ "profile": "canada", "key": "request_answer", "value": { "hours": 12 }, "reason": "own rule" }"#,
    ),
    door(
        "POST /v1/settings/hold-days",
        Class::Office,
        r#"{ "after_feed_days": 21 }"#,
    ),
];

/// Ends the session it is made with, so it comes last.
const LAST: &[Door] = &[door("POST /v1/auth/leave", Class::Session, "")];

/// What a new business has nothing of.
const NOT_YET: &[&str] = &["GET /v1/settings", "GET /v1/trace"];

/// The things that have a list and a page of their own, and who may read them.
const THINGS: &[(&str, &str, Class)] = &[
    ("GET /v1/batches", "GET /v1/batches/{id}", Class::Read),
    ("GET /v1/books", "GET /v1/books/{id}", Class::ReadCustomers),
    ("GET /v1/colonies", "GET /v1/colonies/{id}", Class::Read),
    ("GET /v1/containers", "GET /v1/containers/{id}", Class::Read),
    ("GET /v1/customers", "GET /v1/customers/{id}", Class::ReadCustomers),
    ("GET /v1/deliveries", "GET /v1/deliveries/{id}", Class::ReadCustomers),
    ("GET /v1/fills", "GET /v1/fills/{id}", Class::Read),
    ("GET /v1/hives", "GET /v1/hives/{id}", Class::Read),
    ("GET /v1/lots", "GET /v1/lots/{id}", Class::Read),
    ("GET /v1/medicines", "GET /v1/medicines/{id}", Class::Read),
    ("GET /v1/meters", "GET /v1/meters/{id}", Class::Read),
    ("GET /v1/rooms", "GET /v1/rooms/{id}", Class::Read),
    ("GET /v1/runs", "GET /v1/runs/{id}", Class::Read),
    ("GET /v1/scales", "GET /v1/scales/{id}", Class::Read),
    ("GET /v1/supers", "GET /v1/supers/{id}", Class::Read),
    ("GET /v1/yards", "GET /v1/yards/{id}", Class::Read),
];

/// The calls that write an entry of a kind: who may make them is who may write that kind.
pub(crate) const WRITES: &[(&str, &str)] = &[
    ("POST /v1/yards/{id}/colony-counts", "colonies_counted"),
    ("POST /v1/yards/{id}/flow-starts", "flow_started"),
    ("POST /v1/yards/{id}/flow-ends", "flow_ended"),
    ("POST /v1/yards/{id}/standstills", "standstill_ordered"),
    ("POST /v1/yards/{id}/standstill-licences", "standstill_licensed"),
    ("POST /v1/yards/{id}/standstill-ends", "standstill_lifted"),
    ("POST /v1/hives/{id}/inspections", "hive_inspected"),
    ("POST /v1/medicines/{id}/purchases", "medicine_bought"),
    ("POST /v1/medicines/{id}/disposals", "medicine_disposed"),
    ("POST /v1/hives/{id}/moves", "hive_moved"),
    ("POST /v1/colonies/{id}/moves", "colony_moved"),
    ("POST /v1/colonies/{id}/ends", "colony_ended"),
    ("POST /v1/colonies/{id}/queens", "colony_requeened"),
    ("POST /v1/hives/{id}/honey-left", "honey_left"),
    ("POST /v1/hives/{id}/left-out-yields", "yield_left_out"),
    ("POST /v1/work", "work_booked"),
    ("POST /v1/costs", "cost_booked"),
    ("POST /v1/incomes", "income_booked"),
    ("POST /v1/prices", "price_set"),
    ("POST /v1/supers/{id}/placements", "super_placed"),
    ("POST /v1/supers/{id}/shifts", "super_moved"),
    ("POST /v1/supers/{id}/pulls", "super_pulled"),
    ("POST /v1/supers/{id}/stays", "super_left_in_yard"),
    ("POST /v1/supers/{id}/loads", "super_loaded"),
    ("POST /v1/supers/{id}/receipts", "super_received"),
    ("POST /v1/supers/{id}/weighings", "super_weighed"),
    ("POST /v1/supers/{id}/stores", "super_stored"),
    ("POST /v1/supers/{id}/ends", "super_scrapped"),
    ("POST /v1/meters/{id}/checks", "meter_checked"),
    ("POST /v1/scales/{id}/checks", "scale_checked"),
    ("POST /v1/rooms/{id}/readings", "room_read"),
    ("POST /v1/runs/{id}/uncappings", "super_uncapped"),
    ("POST /v1/runs/{id}/wet-weights", "wet_weighed"),
    ("POST /v1/runs/{id}/frames-set-aside", "frames_set_aside"),
    ("POST /v1/runs/{id}/drainings", "run_drained"),
    ("POST /v1/runs/{id}/closings", "run_closed"),
    ("POST /v1/runs/{id}/reopenings", "run_reopened"),
    ("POST /v1/runs/{id}/cappings", "cappings_weighed"),
    ("POST /v1/runs/{id}/samples", "sample_taken"),
    ("POST /v1/runs/{id}/strainings", "honey_strained"),
    ("POST /v1/containers/{id}/washings", "container_washed"),
    ("POST /v1/fills/{id}/settlings", "fill_settled"),
    ("POST /v1/lots/{id}/releases", "lot_released"),
    ("POST /v1/lots/{id}/bottlings", "bottled"),
    ("POST /v1/lots/{id}/samples", "lot_sampled"),
    ("POST /v1/lots/{id}/losses", "honey_wasted"),
    ("POST /v1/batches/{id}/check-weights", "weights_checked"),
    ("POST /v1/batches/{id}/labels", "labelled"),
    ("POST /v1/batches/{id}/glass", "glass_broken"),
    ("POST /v1/batches/{id}/stores", "batch_stored"),
    ("POST /v1/batches/{id}/outs", "jars_taken_out"),
    ("POST /v1/batches/{id}/complaints", "complaint_told"),
    ("POST /v1/batches/{id}/stock-counts", "stock_counted"),
    ("POST /v1/deliveries/{id}/picks", "order_picked"),
    ("POST /v1/deliveries/{id}/marks", "order_marked"),
    ("POST /v1/deliveries/{id}/returns", "returned"),
    ("POST /v1/yards", "yard_registered"),
    ("POST /v1/hives", "hive_registered"),
    ("POST /v1/colonies", "colony_registered"),
    ("POST /v1/supers", "super_registered"),
    ("POST /v1/medicines", "medicine_registered"),
    ("POST /v1/treatment-starts", "treatment_put_in"),
    ("POST /v1/treatments-at-once", "treatment_given"),
    ("POST /v1/treatment-ends", "treatment_taken_out"),
    ("POST /v1/treatment-sightings", "treatment_seen"),
    ("POST /v1/feed-starts", "feed_put_on"),
    ("POST /v1/feed-ends", "feed_taken_off"),
    ("POST /v1/disease-suspicions", "disease_suspected"),
    ("POST /v1/disease-diagnoses", "disease_diagnosed"),
    ("POST /v1/disease-clearances", "disease_cleared"),
    ("POST /v1/taints", "taint_noted"),
    ("POST /v1/box-cleanings", "box_cleaned"),
    ("POST /v1/meters", "meter_registered"),
    ("POST /v1/scales", "scale_registered"),
    ("POST /v1/rooms", "room_registered"),
    ("POST /v1/containers", "container_registered"),
    ("POST /v1/customers", "customer_registered"),
    ("POST /v1/runs", "run_opened"),
    ("POST /v1/fills", "container_filled"),
    ("POST /v1/draws", "honey_drawn"),
    ("POST /v1/blends", "blended"),
    ("POST /v1/readings", "moisture_read"),
    ("POST /v1/honey-counts", "honey_counted"),
    ("POST /v1/stirrings", "honey_stirred"),
    ("POST /v1/drying-starts", "drying_started"),
    ("POST /v1/drying-stops", "drying_stopped"),
    ("POST /v1/clearings", "clearing_fitted"),
    ("POST /v1/honey-ends", "honey_ended"),
    ("POST /v1/reworks", "jars_reworked"),
    ("POST /v1/orders", "goods_ordered"),
    ("POST /v1/deliveries", "delivered"),
    ("POST /v1/holds", "hold_set"),
    ("POST /v1/hold-ends", "hold_lifted"),
    ("POST /v1/notes", "note_written"),
];

/// The edits of words, which are the office's.
const EDITS: &[(&str, &str)] = &[
    ("PATCH /v1/colonies/{id}", "colony_described"),
    ("PATCH /v1/containers/{id}", "container_described"),
    ("PATCH /v1/customers/{id}", "customer_described"),
    ("PATCH /v1/hives/{id}", "hive_described"),
    ("PATCH /v1/lots/{id}", "lot_described"),
    ("PATCH /v1/medicines/{id}", "medicine_described"),
    ("PATCH /v1/meters/{id}", "meter_described"),
    ("PATCH /v1/rooms/{id}", "room_described"),
    ("PATCH /v1/runs/{id}", "run_described"),
    ("PATCH /v1/scales/{id}", "scale_described"),
    ("PATCH /v1/supers/{id}", "super_described"),
    ("PATCH /v1/yards/{id}", "yard_described"),
];

/// The golden content of a kind, without the id that stands in the path.
fn golden(kind: &str, call: &str) -> String {
    let file = format!("{}/../domain/golden/{kind}.v1.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&file).expect("every kind has a golden file");
    let mut data: serde_json::Map<String, serde_json::Value> = serde_json::from_str(&text).expect("an object");
    if let Some(field) = in_path(call) {
        data.remove(&field).expect("the id in the path");
    }
    serde_json::Value::Object(data).to_string()
}

/// The field of the data that stands in the path of a call.
pub(crate) fn in_path(call: &str) -> Option<String> {
    let plural = call.split('/').nth(2).filter(|_| call.contains("{id}"))?;
    let singular = match plural {
        "batches" => "batch",
        "colonies" => "colony",
        "deliveries" => "delivery",
        regular => regular.trim_end_matches('s'),
    };
    Some(format!("{singular}_id"))
}

static LISTED: LazyLock<Vec<Door>> = LazyLock::new(|| {
    let by_hand = BY_HAND.iter().map(|listed| Door {
        query: listed.query,
        ..door(listed.name, listed.class, "")
    });
    let by_hand = by_hand.zip(BY_HAND).map(|(new, listed)| Door {
        body: listed.body.clone(),
        ..new
    });
    let things = THINGS
        .iter()
        .flat_map(|(list, one, class)| [door(list, *class, ""), door(one, *class, "")]);
    let writes = WRITES.iter().map(|(name, kind)| {
        let by = domain::entry::spec(kind).expect("a kind").written_by;
        let class = if by == domain::entry::WrittenBy::Field {
            Class::Write
        } else {
            Class::Office
        };
        Door {
            body: Cow::Owned(golden(kind, name)),
            ..door(name, class, "")
        }
    });
    let edits = EDITS.iter().map(|(name, kind)| Door {
        body: Cow::Owned(golden(kind, name)),
        ..door(name, Class::Office, "")
    });
    let last = LAST.iter().map(|listed| door(listed.name, listed.class, ""));
    by_hand.chain(things).chain(writes).chain(edits).chain(last).collect()
});

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
    use Class::{Office, Open, Owner, Password, Push, Read, ReadCustomers, Session, Write};
    let allowed: &[Class] = match credential {
        _ if class == Open => return Outcome::NotLookedAt,
        Credential::Nothing | Credential::Garbage | Credential::Forged(_) => {
            return Outcome::Unknown;
        }
        Credential::Lost => &[],
        Credential::Left => &[Session, Push],
        Credential::Of(Role::Viewer) => &[Session, Read, ReadCustomers],
        Credential::Of(Role::Field) => &[Session, Read, Push, Write],
        Credential::Of(Role::Office) => &[Session, Password, Read, ReadCustomers, Push, Write, Office],
        Credential::Of(Role::Owner) => &[Session, Password, Read, ReadCustomers, Push, Write, Office, Owner],
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
    for door in LISTED.iter() {
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
                (true, "snapshot" | "{seq}") => path.push('1'),
                (true, "seasons") => path.push_str("2026"),
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
    let body = ids.filled(&door.body);
    let method: Method = call.method.parse()?;
    let shape = |request: reqwest::RequestBuilder| {
        let request = request.header("if-match", "\"1\"");
        if body.is_empty() {
            request
        } else {
            let media_type = match door.name {
                "POST /v1/sync/outboxes" => "application/x-ndjson",
                "PATCH /v1/photos/{sha256}" => "application/octet-stream",
                _ => "application/json",
            };
            request.header("content-type", media_type).body(body)
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
        // A year is everybody's.
        let names_ids = door.name.replace("{year}", "").contains('{')
            || door.body.contains("{member}")
            || door.body.contains("{device}");
        let as_expected = match door.class {
            Class::Push => answer.is_problem(403, "wrong-operation"),
            _ if door.name == "POST /v1/sync/outboxes" => answer.is_problem(403, "wrong-operation"),
            _ if names_ids => answer.is_problem(404, "not-found"),
            // What the caller writes into its own empty business may contradict that business; nothing else.
            Class::Write | Class::Office => answer.status < 400 || answer.is_problem(422, "contradiction"),
            // Nothing is settled there, and nothing bears that code.
            _ if NOT_YET.contains(&door.name) => answer.is_problem(404, "not-found"),
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
