//! The medicine cupboard: what was bought, what its label says, what was disposed of. What was used stands with the
//! hives it was used on.
//!
//! No waiting days are built in: labels differ from country to country and change, so the person who holds the label
//! types what it says (TX-1). Nor would a fixed number be safe: residues were found eight weeks after dosing, and advice
//! changed from weeks to months (TX-6).

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::grown::{Grown, grows};
use crate::ids::{EntryId, MedicineId, MemberId};
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::units::{Count, Days};
use crate::yard::{rename, retell};

/// How much of a medicine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MedicineAmount {
    /// Strips, pads, tablets, packs.
    Pieces(Count),
    /// Liquid, tenths of a millilitre.
    TenthsMl(Count),
    /// Powder, gel or crystals, tenths of a gram.
    TenthsG(Count),
}

entry! {
    /// A medicine came into the cupboard's list, with what its label says (TX-1).
    MedicineRegistered = "medicine_registered" v 1 touches(medicine_id)
    {
        /// The medicine.
        medicine_id: MedicineId,
        /// What is printed on it.
        name: Name,
        /// The wait on the label, whole days; written even if it is none (TX-2).
        wait_days: Days,
        /// Whether the label allows it with supers on the hive.
        supers_allowed: bool,
    }
    optional {
        /// The active substance.
        substance: Name,
    }
}

entry! {
    /// What is known of a medicine changed; another label holds for what is put in from then on.
    MedicineDescribed = "medicine_described" v 1 touches(medicine_id) wish DescribeMedicine for medicine_id: MedicineId
    {}
    optional {
        /// What is printed on it.
        name: Name,
        /// The active substance.
        substance: Name,
        /// The wait on the label, whole days.
        wait_days: Days,
        /// Whether the label allows it with supers on the hive.
        supers_allowed: bool,
    }
}

entry! {
    /// Medicine was bought (TX-2).
    MedicineBought = "medicine_bought" v 1 touches(medicine_id) wish BuyMedicine for medicine_id: MedicineId
    {
        /// The maker's batch.
        batch: Name,
        /// How much.
        quantity: MedicineAmount,
        /// From whom.
        supplier: Name,
    }
    optional {
        /// The number of the receipt.
        receipt: Name,
        /// The last day on the pack.
        use_before: NaiveDate,
    }
}

entry! {
    /// Medicine was disposed of (TX-2).
    MedicineDisposed = "medicine_disposed" v 1 touches(medicine_id) wish DisposeOfMedicine for medicine_id: MedicineId
    {
        /// How much.
        quantity: MedicineAmount,
        /// How, and where it went.
        how: Text,
    }
    optional {
        /// The maker's batch.
        batch: Name,
    }
}

/// What a label says, from a time on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct MedicineLabel {
    /// Since when somebody told so.
    pub from: DateTime<Utc>,
    /// Whole days from taking out until supers may go on.
    pub wait_days: Days,
    /// Whether it may be in the hive together with supers.
    pub supers_allowed: bool,
}

/// Medicine that was bought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Bought {
    /// The entry.
    pub entry_id: EntryId,
    /// The day on the wall.
    pub on: NaiveDate,
    /// By whom it was written.
    pub by: MemberId,
    /// The maker's batch.
    pub batch: Name,
    /// How much.
    pub quantity: MedicineAmount,
    /// From whom.
    pub supplier: Name,
    /// The number of the receipt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receipt: Option<Name>,
    /// The last day on the pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_before: Option<NaiveDate>,
}

/// Medicine that was disposed of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Disposed {
    /// The entry.
    pub entry_id: EntryId,
    /// The day on the wall.
    pub on: NaiveDate,
    /// By whom it was written.
    pub by: MemberId,
    /// How much.
    pub quantity: MedicineAmount,
    /// How, and where it went.
    pub how: Text,
    /// The maker's batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Name>,
}

state! {
    /// A medicine in the cupboard.
    Medicine {
        /// What is printed on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// What it was called before.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_names: Vec<Name>,
        /// The active substance.
        #[serde(skip_serializing_if = "Option::is_none")]
        substance: Option<Name>,
        /// What its label says, in the order in which it was told.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        labels: Vec<MedicineLabel>,
        /// What was bought.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Bought>)]
        bought: Grown<Bought>,
        /// What was disposed of.
        #[serde(skip_serializing_if = "Grown::is_empty")]
        #[schema(value_type = Vec<Disposed>)]
        disposed: Grown<Disposed>,
    }
}

impl Medicine {
    /// What the label said at a time; before it was first written down, what was written then. A pack is often put
    /// in before the office types its label.
    #[must_use]
    pub fn label_at(&self, at: DateTime<Utc>) -> Option<&MedicineLabel> {
        let told = self.labels.iter().rev().find(|label| label.from <= at);
        told.or_else(|| self.labels.first())
    }

    /// Whether a batch was ever bought.
    #[must_use]
    pub fn has_batch(&self, batch: &Name) -> bool {
        self.bought.iter().any(|bought| bought.batch == *batch)
    }
}

impl Aggregate for Medicine {
    const KIND: SubjectKind = SubjectKind::Medicine;

    grows!(bought, disposed);

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::MedicineRegistered(new) => {
                rename(&mut self.name, &mut self.former_names, Some(&new.name));
                retell(&mut self.substance, new.substance.as_ref());
                self.labels.push(MedicineLabel {
                    from: told.at(),
                    wait_days: new.wait_days,
                    supers_allowed: new.supers_allowed,
                });
            }
            Entry::MedicineDescribed(new) => {
                rename(&mut self.name, &mut self.former_names, new.name.as_ref());
                retell(&mut self.substance, new.substance.as_ref());
                let last = self.labels.last();
                let wait_days = new.wait_days.or_else(|| last.map(|label| label.wait_days));
                let supers_allowed = new.supers_allowed.or_else(|| last.map(|label| label.supers_allowed));
                // Half a label is none: until both are told it holds as if nobody had read it.
                if let (Some(wait_days), Some(supers_allowed)) = (wait_days, supers_allowed)
                    && (new.wait_days.is_some() || new.supers_allowed.is_some())
                {
                    self.labels.push(MedicineLabel {
                        from: told.at(),
                        wait_days,
                        supers_allowed,
                    });
                }
            }
            Entry::MedicineBought(bought) => self.bought.push(Bought {
                entry_id: told.id(),
                on: told.on(),
                by: told.recorded.author,
                batch: bought.batch.clone(),
                quantity: bought.quantity,
                supplier: bought.supplier.clone(),
                receipt: bought.receipt.clone(),
                use_before: bought.use_before,
            }),
            Entry::MedicineDisposed(disposed) => self.disposed.push(Disposed {
                entry_id: told.id(),
                on: told.on(),
                by: told.recorded.author,
                quantity: disposed.quantity,
                how: disposed.how.clone(),
                batch: disposed.batch.clone(),
            }),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.name.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        if self.labels.is_empty() { "no_label" } else { "in_use" }
    }
}
