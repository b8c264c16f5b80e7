//! Which entries would settle a doubt. Until one of them is told, the cautious answer holds (CF-4, CF-18).

use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use crate::common::{Flag, FlagCode};
use crate::house::House;
use crate::ordered::Map;
use crate::state::State;
use crate::subject::{Subject, SubjectKind};

/// An entry that would settle a doubt; what only a person can say is still to be filled in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Settling {
    /// The kind of the entry.
    pub kind: &'static str,
    /// What is known of its data.
    #[schema(value_type = Object)]
    pub data: Value,
    /// The fields that a person has to fill in.
    pub to_fill: Vec<&'static str>,
    /// When this is the right one.
    pub says: &'static str,
}

fn void(entry_id: Value, says: &'static str) -> Settling {
    Settling {
        kind: "voided",
        data: json!({ "entry_id": entry_id }),
        to_fill: vec!["reason"],
        says,
    }
}

/// The entries that would settle a doubt about a thing.
#[must_use]
pub fn settled_by(about: Subject, state: &State, flag: &Flag) -> Vec<Settling> {
    let standing = |side: &&crate::common::Side| {
        let holds = state.holds().iter();
        holds
            .filter(|hold| hold.lifted.is_none())
            .any(|hold| hold.hold_id == side.entry_id)
    };
    let mut found = Vec::new();
    match flag.code {
        FlagCode::ReleasedWithoutSightOfHold => {
            // A hold ends only by a named release (CF-17), so withdrawing it is no way out.
            found.extend(flag.sides.iter().filter(standing).map(|side| Settling {
                kind: "hold_lifted",
                data: json!({ "target": about, "hold_id": side.entry_id }),
                to_fill: vec!["reason"],
                says: "somebody who has seen both decides that it may be used",
            }));
            let releases = flag.sides.iter().filter(|side| !standing(side));
            found.extend(releases.map(|side| void(json!(side.entry_id), "the release was wrong")));
        }
        FlagCode::LiftedWithoutSight => {
            // The side of the hold names the thing it is on; the other is the release.
            let (holds, releases): (Vec<_>, Vec<_>) = flag.sides.iter().partition(|side| side.names.is_some());
            found.extend(holds.into_iter().map(|side| Settling {
                kind: "hold_lifted",
                data: json!({ "target": about, "hold_id": side.entry_id }),
                to_fill: vec!["reason"],
                says: "somebody who has seen all that it covers decides that it may be used",
            }));
            found.extend(
                releases
                    .into_iter()
                    .map(|side| void(json!(side.entry_id), "the release was wrong")),
            );
        }
        FlagCode::DeliveredThoughCancelled => {
            let (cancelled, delivered): (Vec<_>, Vec<_>) = flag.sides.iter().partition(|side| side.names.is_none());
            found.extend(delivered.into_iter().map(|_| Settling {
                kind: "returned",
                data: json!({ "delivery_id": about.id }),
                to_fill: vec!["batch_id", "jars"],
                says: "the goods came back",
            }));
            let keeps = "the buyer keeps the goods: it was not cancelled after all";
            found.extend(cancelled.into_iter().map(|side| void(json!(side.entry_id), keeps)));
        }
        FlagCode::LeftUnderHold => found.extend(flag.sides.iter().map(|side| Settling {
            kind: "hold_lifted",
            data: json!({ "target": about, "hold_id": side.entry_id }),
            to_fill: vec!["reason"],
            says: "somebody who has seen the cause and who has the goods decides that they may stay where they are",
        })),
        FlagCode::NeverPlaced => {
            let hive = flag.sides.iter().find_map(|side| side.names);
            let mut data = json!({ "super_id": about.id });
            let mut to_fill = Vec::new();
            match hive {
                Some(hive) => data["hive_id"] = json!(hive.id),
                None => to_fill.push("hive_id"),
            }
            found.push(Settling {
                kind: "super_placed",
                data,
                to_fill,
                says: "it stood there: tell when it was put on",
            });
            found.extend(
                flag.sides
                    .iter()
                    .map(|side| void(json!(side.entry_id), "it was another box")),
            );
        }
        _ => found.extend(
            flag.sides
                .iter()
                .map(|side| void(json!(side.entry_id), "this did not happen")),
        ),
    }
    found
}

/// Boxes in use that bear the same number (CF-8): two boxes until one is proved to be the other.
#[must_use]
pub fn same_numbers(house: &House) -> Vec<(String, Vec<Subject>)> {
    let mut by_number: Map<String, Vec<Subject>> = Map::new();
    for (subject, state) in house.iter().filter(|(subject, _)| subject.kind == SubjectKind::Super) {
        if let Some(number) = state.label().filter(|_| state.status() != "ended") {
            by_number.entry(number).or_default().push(subject);
        }
    }
    by_number.into_iter().filter(|(_, boxes)| boxes.len() > 1).collect()
}

/// A number with another suffix for each box but the first.
#[must_use]
pub fn suffixes(number: &str, boxes: &[Subject]) -> Vec<Settling> {
    let suffixed = boxes.iter().skip(1).zip('a'..='z');
    let described = suffixed.map(|(of, suffix)| Settling {
        kind: "super_described",
        data: json!({ "super_id": of.id, "number": format!("{number}{suffix}") }),
        to_fill: Vec::new(),
        says: "paint another number onto this box",
    });
    described.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::common::Side;
    use crate::ids::{EntryId, HiveId};

    fn subject(id: u128) -> Subject {
        Subject {
            kind: SubjectKind::Super,
            id: uuid::Uuid::from_u128(id),
        }
    }

    #[test]
    fn a_box_never_placed_is_placed_where_it_was_pulled_from() {
        let side = Side {
            entry_id: EntryId::from_uuid(uuid::Uuid::from_u128(7)),
            at: chrono::DateTime::UNIX_EPOCH,
            names: Some(HiveId::from_uuid(uuid::Uuid::from_u128(9)).into()),
            amount: None,
        };
        let flag = Flag {
            code: FlagCode::NeverPlaced,
            sides: vec![side],
        };
        let found = settled_by(subject(1), &State::empty(SubjectKind::Super), &flag);
        let kinds: Vec<_> = found.iter().map(|settling| settling.kind).collect();
        assert_eq!(kinds, ["super_placed", "voided"]);
        assert_eq!(found[0].data["hive_id"], json!(uuid::Uuid::from_u128(9)));
    }

    #[test]
    fn all_but_the_first_of_a_number_get_a_suffix() {
        let found = suffixes("041", &[subject(1), subject(2), subject(3)]);
        let numbers: Vec<_> = found.iter().map(|settling| settling.data["number"].clone()).collect();
        assert_eq!(numbers, [json!("041a"), json!("041b")]);
    }
}
