//! Which of several weighings of one thing counts (CF-10).
//!
//! The fold takes the later one, since it sees one thing only. Whether a scale was found right is known with the
//! whole house at hand, and whoever shares or balances kilograms asks here.

use chrono::{DateTime, Utc};

use crate::fill::Fill;
use crate::honey_super::{Filling, Weighing};
use crate::house::House;
use crate::ids::{EntryId, FillId, ScaleId};
use crate::meter::Found;
use crate::units::Grams;

/// One weighing of several, as far as it matters which counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// What the scale showed.
    pub gross_g: Grams,
    /// The scale, if somebody named it.
    pub scale_id: Option<ScaleId>,
}

/// The weighing that counts, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counted {
    /// The weighing.
    pub weighing: Candidate,
    /// Another one differs by more than a scale explains, or of several none was made on a scale found right.
    pub amber: bool,
}

/// Two weighings may differ by 0.2 kg, or by 1 % of the one used where that is more (CF-10). Our own choice.
#[must_use]
pub fn differ(used: Grams, other: Grams) -> bool {
    (used.get() - other.get()).abs() > (used.get() / 100).max(200)
}

/// Of weighings between two changes of one thing, the latest on a scale found right, else the latest (CF-10).
#[must_use]
pub fn counted(house: &House, weighings: impl IntoIterator<Item = Candidate>) -> Option<Counted> {
    let mut all: Vec<Candidate> = weighings.into_iter().collect();
    all.sort_by_key(|weighing| (weighing.at, weighing.entry_id));
    let right = |weighing: &&Candidate| {
        let scale = weighing.scale_id.and_then(|id| house.scale(id));
        scale.is_some_and(|scale| scale.found_at(weighing.at) == Found::Right)
    };
    let checked = all.iter().rev().find(right);
    let weighing = *checked.or(all.last())?;
    let apart = all.iter().any(|other| differ(weighing.gross_g, other.gross_g));
    Some(Counted {
        weighing,
        amber: apart || (all.len() > 1 && checked.is_none()),
    })
}

impl From<&Weighing> for Candidate {
    fn from(weighing: &Weighing) -> Self {
        Self {
            entry_id: weighing.entry_id,
            at: weighing.at,
            gross_g: weighing.gross_g,
            scale_id: weighing.scale_id,
        }
    }
}

/// The full weight of a filling that counts.
#[must_use]
pub fn full_of(house: &House, filling: &Filling) -> Option<Counted> {
    counted(
        house,
        filling.full_before.iter().chain(&filling.full).map(Candidate::from),
    )
}

/// The weight after spinning that counts.
#[must_use]
pub fn wet_of(house: &House, filling: &Filling) -> Option<Counted> {
    counted(
        house,
        filling.wet_before.iter().chain(&filling.wet).map(Candidate::from),
    )
}

/// The weight of a full container that counts, and the honey in it by that weighing.
#[must_use]
pub fn fill_of(house: &House, fill: &Fill) -> Option<(Counted, i64)> {
    let now = fill.weighing();
    let tellings: Vec<_> = fill.weighed_before.iter().chain(&now).collect();
    let candidates = tellings.iter().map(|telling| Candidate::from(&telling.weighing));
    let counted = counted(house, candidates)?;
    let told = tellings
        .iter()
        .find(|telling| telling.weighing.entry_id == counted.weighing.entry_id)?;
    Some((counted, told.net_g()))
}

/// By how much the honey in a fill differs from what its fold says, because another weighing counts. Grams.
#[must_use]
pub fn booked_otherwise_g(house: &House, id: FillId) -> i64 {
    let Some(fill) = house.fill(id).filter(|fill| !fill.weighed_before.is_empty()) else {
        return 0;
    };
    fill_of(house, fill).map_or(0, |(_, net_g)| net_g - fill.net_g())
}
