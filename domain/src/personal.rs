//! What of an entry can name or describe a person: the fields that an erasure blanks.
//!
//! Numbers, codes and ids stay: they name boxes and lots, and the way from hive to jar must hold.

use serde_json::Value;

use crate::entry::{Entry, ReadRefused};

/// What stands in place of a text that was erased.
pub const ERASED: &str = "(erased)";

/// Fields that hold what people typed about people and places.
const TYPED: &[&str] = &[
    "address",
    "bought_from",
    "claim_reason",
    "ground",
    "name",
    "note_number",
    "permit",
    "phone",
    "place",
    "reason",
    "text",
];

/// Where a place lies; left out altogether, for a number has no form that says it was erased.
const PLACES: &[&str] = &["latitude_e5", "longitude_e5"];

/// The data of an entry without what people typed. A word out of a list, as the reason of a hold, is none of that and
/// stays, since the entry would not read without it.
///
/// # Errors
/// When the data does not read as it is.
pub fn blank(kind: &str, version: u16, data: &str) -> Result<Value, ReadRefused> {
    Entry::read(kind, version, data)?;
    let mut value: Value = serde_json::from_str(data).map_err(|error| ReadRefused::BadField {
        pointer: String::new(),
        detail: error.to_string(),
    })?;
    let mut typed = Vec::new();
    find(&value, &mut String::new(), &mut typed);
    for pointer in typed {
        let Some(field) = value.pointer_mut(&pointer) else {
            continue;
        };
        let was = std::mem::replace(field, Value::String(ERASED.to_owned()));
        if Entry::read(kind, version, &value.to_string()).is_err()
            && let Some(field) = value.pointer_mut(&pointer)
        {
            *field = was;
        }
    }
    leave_out_places(&mut value);
    Ok(value)
}

fn leave_out_places(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            fields.retain(|name, _| !PLACES.contains(&name.as_str()));
            fields.values_mut().for_each(leave_out_places);
        }
        Value::Array(items) => items.iter_mut().for_each(leave_out_places),
        _ => {}
    }
}

fn find(value: &Value, pointer: &mut String, typed: &mut Vec<String>) {
    let length = pointer.len();
    let mut look = |name: &str, value: &Value, typed: &mut Vec<String>| {
        pointer.push('/');
        pointer.push_str(&name.replace('~', "~0").replace('/', "~1"));
        if value.is_string() && TYPED.contains(&name) {
            typed.push(pointer.clone());
        } else {
            find(value, pointer, typed);
        }
        pointer.truncate(length);
    };
    match value {
        Value::Object(fields) => fields.iter().for_each(|(name, value)| look(name, value, typed)),
        Value::Array(items) => {
            for (at, value) in items.iter().enumerate() {
                look(&at.to_string(), value, typed);
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_people_typed_goes_and_what_names_boxes_stays() {
        let customer = json!({ "customer_id": "00000000-0000-4000-8000-000000000001", "name": "Ida Moor",
            "kind": "private_person", "address": "1 Lane", "phone": "0123" });
        let blanked = blank("customer_registered", 1, &customer.to_string());
        let shown = blanked
            .map(|value| value.to_string())
            .unwrap_or_else(|error| error.to_string());
        assert!(
            !shown.contains("Ida") && !shown.contains("Lane") && !shown.contains("0123"),
            "{shown}"
        );
        let note = json!({ "about": [{ "kind": "super", "id": "00000000-0000-4000-8000-000000000001" }],
            "text": "Ida's brother stung" });
        let blanked = blank("note_written", 1, &note.to_string()).unwrap_or_default();
        assert_eq!((&blanked["text"], &blanked["about"]), (&json!(ERASED), &note["about"]));
    }

    #[test]
    fn where_a_yard_lies_goes_too() {
        let yard = json!({ "yard_id": "00000000-0000-4000-8000-000000000001", "name": "West", "code": "W",
            "latitude_e5": 5197600, "longitude_e5": -104500 });
        let blanked = blank("yard_registered", 1, &yard.to_string()).unwrap_or_default();
        assert_eq!(blanked["code"], json!("W"));
        assert!(
            blanked.get("latitude_e5").is_none() && blanked.get("longitude_e5").is_none(),
            "{blanked}"
        );
    }

    #[test]
    fn a_word_out_of_a_list_stays() {
        let hold = json!({ "target": { "kind": "lot", "id": "00000000-0000-4000-8000-000000000001" },
            "reason": "complaint", "text": "Ida called" });
        let blanked = blank("hold_set", 1, &hold.to_string()).unwrap_or_default();
        assert_eq!(
            (&blanked["reason"], &blanked["text"]),
            (&json!("complaint"), &json!(ERASED))
        );
        assert!(blank("hold_set", 1, "{}").is_err());
    }
}
