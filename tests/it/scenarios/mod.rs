//! The scenarios of the sync protocol, each a test of its name, each followed by the invariants.

mod answers;
mod bucket;
mod clocks;
mod deciding;
mod deciding_story;
mod devices;
mod disk;
mod doubts;
mod downloads;
mod hostile;
mod kills;
mod link;
mod media;
mod order;
mod papers;
mod power;
pub(crate) mod process;
mod soak;
mod versions;
mod week;

use anyhow::Result;
use api::auth::Role;
use serde_json::{Value, json};
use tests::{FieldPhone, Operation, Service};
use uuid::Uuid;

/// A phone of a new field member.
pub(crate) async fn phone(service: &Service) -> Result<FieldPhone> {
    phone_of(&service.operation).await
}

/// The same in this business.
pub(crate) async fn phone_of(operation: &Operation) -> Result<FieldPhone> {
    Ok(FieldPhone::new(operation.phone(Role::Field).await?.client))
}

/// The data of a new super, and its id.
pub(crate) fn new_super(number: usize) -> (Uuid, Value) {
    let id = Uuid::now_v7();
    let data = json!({ "super_id": id, "number": format!("{number:03}"), "class": "medium", "frames": 10 });
    (id, data)
}

/// Records some new supers.
pub(crate) fn record_supers(phone: &mut FieldPhone, count: usize) -> Result<Vec<Uuid>> {
    (0..count)
        .map(|number| phone.record("super_registered", new_super(number).1))
        .collect()
}

/// Puts a super on a hive.
pub(crate) fn placed(super_id: Uuid, hive_id: Uuid) -> Value {
    json!({ "super_id": super_id, "hive_id": hive_id })
}

/// The results of a push, one word an entry.
pub(crate) fn words(answer: &Value) -> Vec<&str> {
    let results = answer["results"].as_array().into_iter().flatten();
    results
        .map(|result| result["result"].as_str().unwrap_or_default())
        .collect()
}

/// The numbers of a push.
pub(crate) fn seqs(answer: &Value) -> Vec<Option<i64>> {
    let results = answer["results"].as_array().into_iter().flatten();
    results.map(|result| result["seq"].as_i64()).collect()
}

/// A row that a phone holds.
pub(crate) fn row(phone: &FieldPhone, kind: &str, id: Uuid) -> Value {
    phone
        .book
        .rows
        .get(&(kind.to_owned(), id.to_string()))
        .cloned()
        .unwrap_or_default()
}

/// Which entries a flag of a state names, if it carries one of this code.
pub(crate) fn sides(state: &Value, code: &str) -> Vec<String> {
    let flags = state["flags"].as_array().into_iter().flatten();
    let sides = flags
        .filter(|flag| flag["code"] == code)
        .flat_map(|flag| flag["sides"].as_array().into_iter().flatten());
    let mut ids: Vec<String> = sides
        .map(|side| side["entry_id"].as_str().unwrap_or_default().to_owned())
        .collect();
    ids.sort();
    ids
}

/// Ids in order.
pub(crate) fn sorted<const N: usize>(ids: [Uuid; N]) -> Vec<String> {
    let mut ids = ids.map(|id| id.to_string()).to_vec();
    ids.sort();
    ids
}
