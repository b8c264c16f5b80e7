//! What the office's calls answer: short lists, single states, and what was written.

use domain::decide::Warning;
use domain::honey_super::Super;
use domain::settle::Settling;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

/// One line of a list: what a person needs to pick the right one.
#[derive(Debug, Default, Serialize, ToSchema)]
pub(crate) struct Item {
    /// The thing.
    id: Uuid,
    /// What people call it.
    #[serde(skip_serializing_if = "Option::is_none")]
    label: Option<String>,
    /// Its state in one word.
    status: String,
    /// How many doubts it carries; absent if none.
    #[serde(skip_serializing_if = "none")]
    flags: usize,
    /// How many holds stand on it itself; absent if none.
    #[serde(skip_serializing_if = "none")]
    holds: usize,
    /// Supers: the hive it stands or last stood on. Colonies: where it lives.
    #[serde(skip_serializing_if = "Option::is_none")]
    hive_id: Option<Uuid>,
    /// Hives, and supers stacked in a yard: the yard.
    #[serde(skip_serializing_if = "Option::is_none")]
    yard_id: Option<Uuid>,
    /// The deciding moisture, hundredths of a per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    moisture_hundredths: Option<i64>,
    /// Supers: the full weight.
    #[serde(skip_serializing_if = "Option::is_none")]
    gross_g: Option<i64>,
    /// Fills and lots: honey in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    content_g: Option<i64>,
    /// Batches: jars in stock.
    #[serde(skip_serializing_if = "Option::is_none")]
    jars_in_stock: Option<i64>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde hands over a reference")]
const fn none(count: &usize) -> bool {
    *count == 0
}

/// A page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct List {
    /// The lines, by label.
    pub(crate) items: Vec<Item>,
    /// Where the next page begins; absent at the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) next: Option<String>,
}

/// What was written.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Written {
    /// The entry.
    pub(crate) entry_id: Uuid,
    /// Its number in the ledger.
    pub(crate) seq: i64,
    /// What may be wrong but was not refused.
    pub(crate) warnings: Vec<Warning>,
    /// What the entry is about, as it is now.
    #[schema(value_type = Option<Object>)]
    pub(crate) row: Option<Value>,
}

/// A doubt somebody should look at.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Flagged {
    /// What kind of thing it is about: one of those that are folded, or `device`.
    #[schema(example = "super")]
    pub(crate) kind: &'static str,
    /// Which one.
    pub(crate) id: Uuid,
    /// What people call it.
    pub(crate) label: String,
    /// Which doubt, a fixed word.
    #[schema(example = "on_two_hives")]
    pub(crate) code: String,
    /// The doubt in a sentence.
    pub(crate) sentence: &'static str,
    /// What each entry says.
    pub(crate) sides: Vec<FlaggedSide>,
    /// Lots and jars, and whatever else, that are only as sure as this.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) affects: Vec<Affected>,
    /// Entries that would settle it. Until then the cautious answer holds.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) settled_by: Vec<Settling>,
    /// Devices: first and last of the numbers that have not arrived.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) missing: Vec<(i64, i64)>,
}

/// Something that a doubt touches.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Affected {
    /// The thing.
    #[serde(flatten)]
    pub(crate) subject: Subject,
    /// What people call it.
    pub(crate) label: String,
}

/// One side of a doubt, with names.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FlaggedSide {
    /// The side.
    #[serde(flatten)]
    pub(crate) side: domain::common::Side,
    /// What people call the thing it names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) label: Option<String>,
}

/// Every doubt there is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Flags {
    /// The doubts, by what they are about.
    pub(crate) items: Vec<Flagged>,
    /// Doubts that show only with several things side by side.
    pub(crate) doubts: Vec<Doubted>,
}

/// A doubt that shows only with several things side by side.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Doubted {
    /// What it is about.
    #[serde(flatten)]
    pub(crate) doubt: domain::doubts::Doubt,
    /// The rule of the trade behind it.
    pub(crate) rule: &'static str,
    /// The doubt in a sentence, with what to do.
    pub(crate) sentence: String,
}

impl Item {
    /// One line out of a state.
    pub(crate) fn of(subject: Subject, state: &State) -> Self {
        let mut item = Self {
            id: subject.id,
            label: state.label(),
            status: state.status().to_owned(),
            flags: state.flags().len(),
            holds: state.holds().iter().filter(|hold| hold.lifted.is_none()).count(),
            ..Self::default()
        };
        match state {
            State::Super(folded) => item.describe_super(&folded.state),
            State::Hive(folded) => item.yard_id = folded.state.yard().map(domain::ids::YardId::uuid),
            State::Colony(folded) => item.hive_id = folded.state.homes.last().map(|home| home.hive_id.uuid()),
            State::Fill(folded) => {
                item.content_g = Some(folded.state.content_g);
                item.moisture_hundredths = folded.state.water().measured().map(domain::units::Moisture::get);
            }
            State::Lot(folded) => {
                item.content_g = Some(folded.state.content_g);
                item.moisture_hundredths = folded.state.water().measured().map(domain::units::Moisture::get);
            }
            State::Batch(folded) => item.jars_in_stock = Some(folded.state.jars_in_stock),
            _ => {}
        }
        item
    }

    fn describe_super(&mut self, state: &Super) {
        self.hive_id = state.filling.last_stand().map(|stand| stand.hive_id.uuid());
        self.yard_id = state.yard_id.map(domain::ids::YardId::uuid);
        self.moisture_hundredths = state.filling.water().measured().map(domain::units::Moisture::get);
        self.gross_g = state.filling.full.as_ref().map(|full| full.gross_g.get());
    }
}

/// A single state: its fields with id, label and status before them.
///
/// # Errors
/// When a kept state is not JSON.
pub(crate) fn single(subject: Subject, label: Option<&str>, status: &str, state: &str) -> serde_json::Result<Value> {
    let mut fields: serde_json::Map<String, Value> = serde_json::from_str(state)?;
    fields.insert("id".to_owned(), Value::String(subject.id.to_string()));
    fields.insert("kind".to_owned(), Value::String(subject.kind.name().to_owned()));
    fields.insert("status".to_owned(), Value::String(status.to_owned()));
    if let Some(label) = label {
        fields.insert("label".to_owned(), Value::String(label.to_owned()));
    }
    Ok(Value::Object(fields))
}

/// Whether only those who may read customers and prices are shown it.
pub(crate) const fn is_of_customers(kind: SubjectKind) -> bool {
    matches!(kind, SubjectKind::Books | SubjectKind::Customer | SubjectKind::Delivery)
}
