//! A lot: honey treated as one thing for trace, quality and recall (LO-1). It starts with a draw, a blend or the rework of
//! jars (ID-6); open, held or released, part used, used up, or ended otherwise (ST-8).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::batch::Bottled;
use crate::common::{Common, FlagCode, Side, state};
use crate::content::{Difference, TakenOut, count, differences_g, judge_content, take_out, taken_g};
use crate::entry::Entry;
use crate::extraction::is_zero;
use crate::fill::Part;
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::honey_super::SAME_HAPPENING;
use crate::ids::{EntryId, MemberId};
use crate::limits::Claim;
use crate::lot_code::LotCode;
use crate::moisture::{Reading, Water, deciding_unchecked};
use crate::subject::{Subject, SubjectKind};
use crate::text::{Name, Text};
use crate::units::Count;
use crate::yard::retell;

mod entries;
mod retained;

pub use entries::*;
pub use retained::{Retained, retained};

/// One release.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Released {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// Jars kept back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples_kept: Option<Count>,
    /// Where they stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples_place: Option<Name>,
}

/// One telling by which honey came into a lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct CameIn {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Honey that came.
    pub weight_g: i64,
}

impl CameIn {
    fn side(&self) -> Side {
        Side {
            entry_id: self.entry_id,
            at: self.at,
            names: None,
            amount: Some(self.weight_g),
        }
    }
}

state! {
    /// Honey treated as one.
    Lot {
        /// Its code.
        #[serde(skip_serializing_if = "Option::is_none")]
        code: Option<LotCode>,
        /// What kind of honey it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<Name>,
        /// Under what claim it is to be sold; without one, as honey in general.
        #[serde(skip_serializing_if = "Option::is_none")]
        claim: Option<Claim>,
        /// Why it may bear the name of a plant.
        #[serde(skip_serializing_if = "Option::is_none")]
        claim_reason: Option<Text>,
        /// When it began.
        #[serde(skip_serializing_if = "Option::is_none")]
        made_at: Option<DateTime<Utc>>,
        /// What it was made of; all of it stays in its ancestry (BL-4).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        parts: Vec<Part>,
        /// The tellings by which honey came in, in order.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        came_in: Vec<CameIn>,
        /// When honey last came in, or was stirred.
        #[serde(skip_serializing_if = "Option::is_none")]
        mixed_at: Option<DateTime<Utc>>,
        /// Readings since then (MO-10).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        readings: Vec<Reading>,
        /// Releases since honey last came in.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        releases: Vec<Released>,
        /// What left it: into jars, other lots, as bulk.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        taken_out: Vec<TakenOut>,
        /// Samples, together.
        #[serde(skip_serializing_if = "is_zero")]
        samples_g: i64,
        /// Losses told, together.
        #[serde(skip_serializing_if = "is_zero")]
        wasted_g: i64,
        /// It was withdrawn, recalled, destroyed or downgraded.
        #[serde(skip_serializing_if = "Option::is_none")]
        ended: Option<Gone>,
        /// What weighings of the rest brought to light (MB-7).
        #[serde(skip_serializing_if = "Vec::is_empty")]
        differences: Vec<Difference>,
        /// Honey still in it; below nothing if too much was told to have left it.
        content_g: i64,
    }
}

impl Lot {
    /// Honey that came in.
    #[must_use]
    pub fn made_g(&self) -> i64 {
        self.parts.iter().map(|part| part.weight_g.get()).sum()
    }

    /// What is known of its water from its own readings.
    #[must_use]
    pub fn water(&self) -> Water {
        deciding_unchecked(&self.readings)
    }

    /// The claim it is judged by.
    #[must_use]
    pub fn claim(&self) -> Claim {
        self.claim.unwrap_or(Claim::General)
    }

    /// The release that stands.
    #[must_use]
    pub fn released(&self) -> Option<&Released> {
        self.releases.last()
    }

    /// Honey came in: what was measured and released before speaks no longer for all of it (ID-6, MO-10).
    fn take_in(&mut self, (told, memo): (&Told<'_>, &mut Memo), code: LotCode, parts: &[Part], claim: Option<Claim>) {
        memo.remember(told);
        let new = CameIn {
            entry_id: told.id(),
            at: told.at(),
            weight_g: parts.iter().map(|part| part.weight_g.get()).sum(),
        };
        // Two who did not know of each other may have told of one blend, each in his own way (CF-2).
        let doubles = self
            .came_in
            .iter()
            .filter(|earlier| new.at - earlier.at <= SAME_HAPPENING && memo.concurrent(earlier.entry_id, told));
        let doubles: Vec<Side> = doubles.map(CameIn::side).collect();
        if !doubles.is_empty() {
            self.flag(FlagCode::ToldTwice, [doubles, vec![new.side()]].concat());
        }
        self.came_in.push(new);
        if !self.parts.is_empty() && self.taken_out.iter().any(|taken| taken.into.kind == SubjectKind::Batch) {
            let jars = self.taken_out.iter().map(|taken| Side {
                entry_id: taken.entry_id,
                at: taken.at,
                names: Some(taken.into),
                amount: Some(taken.weight_g),
            });
            let jars: Vec<Side> = jars.collect();
            self.flag(FlagCode::LateForBottledLot, [jars, vec![Side::of(told)]].concat());
        }
        self.code.get_or_insert(code);
        self.parts.extend_from_slice(parts);
        self.claim = self.claim.or(claim);
        self.made_at.get_or_insert(told.at());
        self.mixed_at = Some(told.at());
        self.readings.clear();
        self.releases.clear();
    }

    fn release(&mut self, told: &Told<'_>, memo: &mut Memo, released: &LotReleased) {
        memo.remember(told);
        let unseen: Vec<Side> = self
            .standing_holds()
            .filter(|hold| memo.concurrent(hold.hold_id, told))
            .map(|hold| Side {
                entry_id: hold.hold_id,
                at: hold.since,
                names: None,
                amount: None,
            })
            .collect();
        if !unseen.is_empty() {
            self.flag(
                FlagCode::ReleasedWithoutSightOfHold,
                [unseen, vec![Side::of(told)]].concat(),
            );
        }
        self.releases.push(Released {
            entry_id: told.id(),
            at: told.at(),
            by: told.recorded.author,
            samples_kept: released.samples_kept,
            samples_place: released.samples_place.clone(),
        });
    }

    /// A hold that sorts after a release whose maker could not know of it is the same doubt from the other side.
    fn hold(&mut self, told: &Told<'_>, memo: &Memo) {
        let unseen = self
            .releases
            .iter()
            .filter(|release| memo.concurrent(release.entry_id, told));
        let sides: Vec<Side> = unseen
            .map(|release| Side {
                entry_id: release.entry_id,
                at: release.at,
                names: None,
                amount: None,
            })
            .collect();
        if !sides.is_empty() {
            self.flag(
                FlagCode::ReleasedWithoutSightOfHold,
                [sides, vec![Side::of(told)]].concat(),
            );
        }
    }

    fn taken(&mut self, (told, memo): (&Told<'_>, &mut Memo), weight_g: i64, into: impl Into<Subject>) {
        let mut taken = std::mem::take(&mut self.taken_out);
        let new = TakenOut::of(told, weight_g, into.into());
        take_out(self, &mut taken, new, (told, memo));
        self.taken_out = taken;
    }

    /// Jars were filled. What is written before them but came into the ledger after them was not known to whoever
    /// filled: it joins the lot, and somebody has to look at the jars again.
    fn bottle(&mut self, told: &Told<'_>, memo: &mut Memo, bottled: &Bottled) {
        let late = |entry: EntryId| memo.arrived(entry).is_some_and(|seq| seq > told.recorded.seq);
        let parts = self.came_in.iter().filter(|came| late(came.entry_id)).map(CameIn::side);
        let readings = self.readings.iter().filter(|reading| late(reading.entry_id));
        let readings = readings.map(|reading| Side {
            entry_id: reading.entry_id,
            at: reading.at,
            names: None,
            amount: None,
        });
        let sides: Vec<Side> = parts.chain(readings).collect();
        if !sides.is_empty() {
            let jars = Side::of(told).naming(bottled.batch_id).telling(bottled.used_g());
            self.flag(FlagCode::LateForBottledLot, [sides, vec![jars]].concat());
        }
        self.taken((told, memo), bottled.used_g(), bottled.batch_id);
    }

    fn blend(&mut self, told: &Told<'_>, memo: &mut Memo, blended: &Blended) {
        let into_this = told.about == blended.lot_id.into();
        if into_this {
            self.take_in((told, memo), blended.code, &blended.parts, blended.claim);
        }
        let of_this = || blended.parts.iter().filter(|part| part.from == told.about);
        // A lot said to be made of itself gains nothing by it (MB-4).
        if !into_this || of_this().next().is_some() {
            let weight_g = of_this().map(|part| part.weight_g.get()).sum();
            self.taken((told, memo), weight_g, blended.lot_id);
        }
    }

    fn recount(&mut self) {
        let held = self.made_g() - self.samples_g - self.wasted_g;
        self.content_g = held - taken_g(&self.taken_out) + differences_g(&self.differences);
        if self.made_at.is_some() {
            let taken = std::mem::take(&mut self.taken_out);
            judge_content(self, &taken, self.content_g);
            self.taken_out = taken;
        }
    }
}

impl Aggregate for Lot {
    const KIND: SubjectKind = SubjectKind::Lot;

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        match told.entry {
            Entry::HoneyDrawn(drawn) => {
                let part = Part {
                    from: drawn.fill_id.into(),
                    weight_g: drawn.weight_g,
                };
                self.take_in((told, memo), drawn.code, &[part], drawn.claim);
            }
            Entry::Blended(blended) => self.blend(told, memo, blended),
            Entry::JarsReworked(again) => {
                let part = Part {
                    from: again.batch_id.into(),
                    weight_g: again.weight_g,
                };
                self.take_in((told, memo), again.code, &[part], again.claim);
            }
            Entry::HoneyEnded(ended) => {
                self.ended = Some(end_honey(self, (told, memo), ended));
                if ended.how == HoneyEnd::Downgraded {
                    self.claim = Some(Claim::Bakers);
                }
            }
            Entry::LotDescribed(described) => {
                retell(&mut self.claim, described.claim.as_ref());
                retell(&mut self.name, described.name.as_ref());
                retell(&mut self.claim_reason, described.claim_reason.as_ref());
            }
            Entry::HoneyStirred(_) => {
                self.mixed_at = Some(told.at());
                self.readings.clear();
            }
            Entry::MoistureRead(read) => {
                memo.remember(told);
                self.readings.push(Reading::of(told, read));
            }
            Entry::LotReleased(released) => self.release(told, memo, released),
            Entry::HoldSet(_) => self.hold(told, memo),
            Entry::Bottled(bottled) => self.bottle(told, memo, bottled),
            Entry::HoneyCounted(counted) => {
                let difference = count(self, self.content_g, told, counted);
                self.differences.extend(difference);
            }
            Entry::LotSampled(sample) => self.samples_g += sample.weight_g.get(),
            Entry::HoneyWasted(wasted) => self.wasted_g += wasted.weight_g.get(),
            _ => {}
        }
        self.recount();
    }

    fn label(&self) -> Option<String> {
        self.code.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        if let Some(end) = ended_as(self, self.ended.as_ref()) {
            end
        } else if self.standing_holds().next().is_some() {
            "on_hold"
        } else if self.made_at.is_none() {
            "not_made"
        } else if self.content_g <= 0 && !self.taken_out.is_empty() {
            "used_up"
        } else if self.released().is_none() {
            "open"
        } else if self.taken_out.is_empty() {
            "released"
        } else {
            "part_used"
        }
    }
}
