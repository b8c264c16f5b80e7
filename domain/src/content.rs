//! What left a fill or lot, what is still in it, and what a weighing of the rest brings to light (CF-9, MB-7).
//!
//! Movements add up, whoever told them; measurements of one thing compete, and one of them counts (`weighing`, `moisture`);
//! of two states that cannot both be neither is dropped, and a person decides (CF-3).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side};
use crate::entry::entry;
use crate::fold::{Memo, Told};
use crate::form::Form;
use crate::honey_super::SAME_HAPPENING;
use crate::house::House;
use crate::ids::{ContainerId, EntryId, FillId};
use crate::subject::Subject;
use crate::text::Text;
use crate::units::Grams;
use crate::weighing::booked_otherwise_g;

entry! {
    /// What is left in a container or lot was weighed. It never overwrites: the difference to the book is posted with
    /// its reason (MB-7). An overdrawn fill is drawn from again only after this (CF-9).
    HoneyCounted = "honey_counted" v 1 touches(target)
    {
        /// The fill or lot.
        target: Subject,
        /// Honey found in it, net.
        content_g: Grams,
    }
    optional {
        /// Why it differs from the book.
        reason: Text,
    }
}

/// Scale difference that is not yet an overdraft (CF-9).
pub const SCALE_DIFFERENCE_G: i64 = 500;

/// Honey that left a container or lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct TakenOut {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// How much.
    pub weight_g: i64,
    /// What it became, or who got it.
    pub into: Subject,
}

/// What a weighing of the rest brought to light.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Difference {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Found less book, grams.
    pub difference_g: i64,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// What all weighings of the rest together changed, grams.
pub(crate) fn differences_g(differences: &[Difference]) -> i64 {
    differences.iter().map(|difference| difference.difference_g).sum()
}

/// What left by all tellings together, grams.
pub(crate) fn taken_g(taken: &[TakenOut]) -> i64 {
    taken.iter().map(|taken| taken.weight_g).sum()
}

/// Flags what cannot be: two draws both count, even when together they are too much (CF-9). `content_g` is what is left.
pub(crate) fn judge_content<C: Common>(state: &mut C, taken: &[TakenOut], content_g: i64) {
    if content_g < -SCALE_DIFFERENCE_G {
        let sides = taken.iter().map(|taken| Side {
            entry_id: taken.entry_id,
            at: taken.at,
            names: Some(taken.into),
            amount: Some(taken.weight_g),
        });
        state.flag(FlagCode::Overdrawn, sides.collect::<Vec<_>>());
    } else {
        state.unflag(FlagCode::Overdrawn);
    }
}

impl TakenOut {
    pub(crate) fn of(told: &Told<'_>, weight_g: i64, into: Subject) -> Self {
        Self {
            entry_id: told.id(),
            at: told.at(),
            weight_g,
            into,
        }
    }

    fn side(&self) -> Side {
        Side {
            entry_id: self.entry_id,
            at: self.at,
            names: Some(self.into),
            amount: Some(self.weight_g),
        }
    }
}

/// Takes out what was told. Told alike within twelve hours by two who did not know of each other, both count and
/// somebody is asked whether it was one (CF-2).
pub(crate) fn take_out<C: Common>(state: &mut C, taken: &mut Vec<TakenOut>, new: TakenOut, (told, memo): Teller<'_>) {
    memo.remember(told);
    for old in taken.iter().filter(|earlier| new.at - earlier.at > SAME_HAPPENING) {
        memo.forget(old.entry_id);
    }
    let alike = |earlier: &&TakenOut| {
        earlier.weight_g == new.weight_g
            && earlier.into.kind == new.into.kind
            && new.at - earlier.at <= SAME_HAPPENING
            && memo.concurrent(earlier.entry_id, told)
    };
    let sides: Vec<Side> = taken.iter().filter(alike).map(TakenOut::side).collect();
    if !sides.is_empty() {
        state.flag(FlagCode::ToldTwice, [sides, vec![new.side()]].concat());
    }
    taken.push(new);
}

/// The entry being folded, with the fold's memory.
pub(crate) type Teller<'a> = (&'a Told<'a>, &'a mut Memo);

/// Posts what a weighing of the rest found, and with it the doubt whether something was told twice is settled.
pub(crate) fn count<C: Common>(
    state: &mut C,
    book_g: i64,
    told: &Told<'_>,
    counted: &HoneyCounted,
) -> Option<Difference> {
    state.unflag(FlagCode::ToldTwice);
    let difference_g = counted.content_g.get() - book_g;
    (difference_g != 0).then(|| Difference {
        entry_id: told.id(),
        at: told.at(),
        difference_g,
        reason: counted.reason.clone(),
    })
}

/// Honey that was run in on top of other honey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MixedIn {
    /// The container.
    pub container_id: ContainerId,
    /// What was still in it.
    pub held: FillId,
    /// What was run in on top.
    pub filled: FillId,
    /// How much was still in it, grams.
    pub rest_g: i64,
}

/// Containers that were filled while more than a scale difference was still in them and nobody had washed them
/// (ST-11).
#[must_use]
pub fn mixed_in(house: &House) -> Vec<MixedIn> {
    let mut mixed = Vec::new();
    for (container_id, container) in house.containers() {
        for (at, above) in container.stays.iter().enumerate() {
            for below in container.stays.iter().take(at) {
                let washed = below.washed_at.is_some_and(|washed| washed <= above.at);
                let rest_g = rest_at(house, below.fill_id, above.at);
                if !washed && rest_g > SCALE_DIFFERENCE_G {
                    mixed.push(MixedIn {
                        container_id,
                        held: below.fill_id,
                        filled: above.fill_id,
                        rest_g,
                    });
                }
            }
        }
    }
    mixed
}

/// What a fill still held at a time.
fn rest_at(house: &House, id: FillId, at: DateTime<Utc>) -> i64 {
    let Some(fill) = house.fill(id) else { return 0 };
    let taken = fill.taken_out.iter().filter(|taken| taken.at <= at);
    let taken_g: i64 = taken.map(|taken| taken.weight_g).sum();
    let found = fill.differences.iter().filter(|found| found.at <= at);
    let found_g: i64 = found.map(|found| found.difference_g).sum();
    fill.net_g() + booked_otherwise_g(house, id) - fill.skimmed_g - taken_g + found_g
}
