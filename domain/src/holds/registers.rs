//! The medicine register and the feed register: plain lists, complete by the fields that inspectors ask for (TX-2,
//! FE-2). How they look on paper is not decided here.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::answer::Named;
use super::bees::{Carrier, Dwellings};
use crate::feed::{FedWith, FeedStep};
use crate::form::Form;
use crate::hive::Hive;
use crate::house::House;
use crate::ids::{EntryId, HiveId, MedicineId, MemberId};
use crate::medicine::MedicineAmount;
use crate::ordered::Map;
use crate::subject::Subject;
use crate::text::{Name, Text};
use crate::treatment::{Basis, TreatmentAct, TreatmentStep, Way};
use crate::units::Days;

/// Medicine that was bought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct PurchaseLine {
    /// The entry.
    pub entry_id: EntryId,
    /// What is printed on it.
    pub medicine: Named,
    /// The active substance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substance: Option<Name>,
    /// The maker's batch.
    pub batch: Name,
    /// The day.
    pub on: NaiveDate,
    /// How much.
    pub quantity: MedicineAmount,
    /// From whom.
    pub supplier: Name,
    /// The number of the receipt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receipt: Option<Name>,
}

/// A treatment: one telling, or what followed of it in some hives.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct TreatmentLine {
    /// The entry.
    pub entry_id: EntryId,
    /// Put in, given at once, taken out, seen in.
    pub act: TreatmentAct,
    /// The day.
    pub on: NaiveDate,
    /// By whom it was written.
    pub by: MemberId,
    /// The medicine, where it was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub medicine: Option<Named>,
    /// The active substance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substance: Option<Name>,
    /// The maker's batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Name>,
    /// How much each hive got.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_hive: Option<MedicineAmount>,
    /// Against what.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against: Option<Name>,
    /// What that rests on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// How.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way: Option<Way>,
    /// How long it is to stay in or to work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub duration_days: Option<Days>,
    /// The wait on the label, whole days, written even if it is none; absent where nobody typed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wait_days: Option<Days>,
    /// Whether the label allows it with supers on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supers_allowed: Option<bool>,
    /// The hives.
    pub hives: Vec<Named>,
    /// The colonies that lived in them.
    pub colonies: Vec<Named>,
    /// The yards they stood in.
    pub yards: Vec<Named>,
}

/// Medicine that was disposed of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct DisposalLine {
    /// The entry.
    pub entry_id: EntryId,
    /// What is printed on it.
    pub medicine: Named,
    /// The maker's batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Name>,
    /// The day.
    pub on: NaiveDate,
    /// How much.
    pub quantity: MedicineAmount,
    /// How, and where it went.
    pub how: Text,
}

/// Medicines bought, used and disposed of.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct MedicineRegister {
    /// Bought, by day.
    pub bought: Vec<PurchaseLine>,
    /// Used, by day.
    pub used: Vec<TreatmentLine>,
    /// Disposed of, by day.
    pub disposed: Vec<DisposalLine>,
}

/// Feed put on or taken off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct FeedLine {
    /// The entry.
    pub entry_id: EntryId,
    /// The day.
    pub on: NaiveDate,
    /// By whom it was written.
    pub by: MemberId,
    /// What was put on, each hive; nothing where feed was taken off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_on: Option<FedWith>,
    /// The hives.
    pub hives: Vec<Named>,
    /// The colonies that lived in them.
    pub colonies: Vec<Named>,
    /// The yards they stood in.
    pub yards: Vec<Named>,
}

/// Everything that was fed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct FeedRegister {
    /// By day.
    pub lines: Vec<FeedLine>,
}

/// Steps of one entry with the hives it named.
fn by_entry<'a, T>(
    house: &'a House,
    steps: impl Fn(&'a Hive) -> &'a [T],
    id: impl Fn(&T) -> EntryId,
) -> Map<EntryId, (&'a T, Vec<HiveId>)> {
    let mut entries: Map<EntryId, (&T, Vec<HiveId>)> = Map::new();
    for (hive, state) in house.hives() {
        for step in steps(state) {
            entries
                .entry(id(step))
                .or_insert_with(|| (step, Vec::new()))
                .1
                .push(hive);
        }
    }
    entries
}

/// Hives, the colonies in them and the yards they stood in at a time.
fn whereabouts(
    house: &House,
    dwellings: &Dwellings,
    hives: &[HiveId],
    at: chrono::DateTime<chrono::Utc>,
) -> (Vec<Named>, Vec<Named>, Vec<Named>) {
    let named = |subject: Subject| Named {
        subject,
        label: house.label(subject),
    };
    let sorted = |mut named: Vec<Named>| {
        named.sort_by(|a, b| (&a.label, a.subject).cmp(&(&b.label, b.subject)));
        named.dedup();
        named
    };
    let colonies = hives
        .iter()
        .flat_map(|hive| dwellings.carriers(*hive, at))
        .filter_map(|carrier| match carrier {
            Carrier::Colony(colony) => Some(named(colony.into())),
            Carrier::Hive(_) => None,
        });
    let yards = hives
        .iter()
        .filter_map(|hive| house.hive(*hive)?.yard_at(at))
        .map(|yard| named(yard.into()));
    let (colonies, yards) = (colonies.collect(), yards.collect());
    (
        sorted(hives.iter().map(|hive| named((*hive).into())).collect()),
        sorted(colonies),
        sorted(yards),
    )
}

/// The medicine register (TX-2).
#[must_use]
pub fn medicine_register(house: &House) -> MedicineRegister {
    let dwellings = Dwellings::of(house);
    let named = |id: MedicineId| Named {
        subject: id.into(),
        label: house.label(id.into()),
    };
    let mut register = MedicineRegister::default();
    for (id, medicine) in house.medicines() {
        register
            .bought
            .extend(medicine.bought.iter().map(|bought| PurchaseLine {
                entry_id: bought.entry_id,
                medicine: named(id),
                substance: medicine.substance.clone(),
                batch: bought.batch.clone(),
                on: bought.on,
                quantity: bought.quantity,
                supplier: bought.supplier.clone(),
                receipt: bought.receipt.clone(),
            }));
        register
            .disposed
            .extend(medicine.disposed.iter().map(|disposed| DisposalLine {
                entry_id: disposed.entry_id,
                medicine: named(id),
                batch: disposed.batch.clone(),
                on: disposed.on,
                quantity: disposed.quantity,
                how: disposed.how.clone(),
            }));
    }
    let steps = by_entry(house, |hive| &hive.treatments, |step: &TreatmentStep| step.entry_id);
    register.used = steps
        .into_values()
        .map(|(step, hives)| {
            let medicine = step.medicine_id.and_then(|id| house.medicine(id));
            let label = medicine.and_then(|medicine| medicine.label_at(step.at));
            let (hives, colonies, yards) = whereabouts(house, &dwellings, &hives, step.at);
            TreatmentLine {
                entry_id: step.entry_id,
                act: step.act,
                on: step.on(),
                by: step.by,
                medicine: step.medicine_id.map(named),
                substance: medicine.and_then(|medicine| medicine.substance.clone()),
                batch: step.batch.clone(),
                per_hive: step.per_hive,
                against: step.against.clone(),
                basis: step.basis,
                way: step.way,
                duration_days: step.duration_days,
                wait_days: label.map(|label| label.wait_days),
                supers_allowed: label.map(|label| label.supers_allowed),
                hives,
                colonies,
                yards,
            }
        })
        .collect();
    register.bought.sort_by_key(|line| (line.on, line.entry_id));
    register.used.sort_by_key(|line| (line.on, line.entry_id));
    register.disposed.sort_by_key(|line| (line.on, line.entry_id));
    register
}

/// The feed register (FE-2).
#[must_use]
pub fn feed_register(house: &House) -> FeedRegister {
    let dwellings = Dwellings::of(house);
    let steps = by_entry(house, |hive| &hive.feedings, |step: &FeedStep| step.entry_id);
    let lines = steps.into_values().map(|(step, hives)| {
        let (hives, colonies, yards) = whereabouts(house, &dwellings, &hives, step.at);
        FeedLine {
            entry_id: step.entry_id,
            on: step.on(),
            by: step.by,
            put_on: step.put_on.clone(),
            hives,
            colonies,
            yards,
        }
    });
    let mut lines: Vec<FeedLine> = lines.collect();
    lines.sort_by_key(|line| (line.on, line.entry_id));
    FeedRegister { lines }
}
