//! A lot: honey treated as one thing for trace, quality and recall (LO-1). It starts with a draw or a blend (ID-6).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::extraction::is_zero;
use crate::fill::{Part, TakenOut, take_out};
use crate::fold::{Aggregate, Memo, Told};
use crate::ids::{EntryId, FillId, LotId, MemberId};
use crate::limits::Claim;
use crate::lot_code::LotCode;
use crate::moisture::{Reading, Water, deciding_unchecked};
use crate::subject::{Subject, SubjectKind};
use crate::text::{Name, Text};
use crate::units::{Count, Grams};
use crate::yard::retell;

entry! {
    /// Honey was drawn from one container to be used: a lot of its own (ID-6).
    HoneyDrawn = "honey_drawn" v 1 touches(lot_id, fill_id)
    {
        /// The lot it became.
        lot_id: LotId,
        /// The lot's code (LO-2).
        code: LotCode,
        /// The fill it was taken from.
        fill_id: FillId,
        /// How much.
        weight_g: Grams,
    }
    optional {
        /// Under what claim it is to be sold.
        claim: Claim,
    }
}

entry! {
    /// Honey of several containers or lots was put together.
    Blended = "blended" v 1 touches(lot_id, parts)
    {
        /// The lot it became.
        lot_id: LotId,
        /// The lot's code (LO-2).
        code: LotCode,
        /// What it was made of.
        parts: Vec<Part>,
    }
    optional {
        /// Under what claim it is to be sold.
        claim: Claim,
    }
}

entry! {
    /// Words about a lot changed.
    LotDescribed = "lot_described" v 1 touches(lot_id) wish DescribeLot for lot_id: LotId
    {}
    optional {
        /// Under what claim it is to be sold.
        claim: Claim,
        /// What kind of honey it is, in words.
        name: Name,
        /// Why it may bear the name of a plant (LB-2).
        claim_reason: Text,
    }
}

entry! {
    /// A named person released a lot for bottling and sale.
    LotReleased = "lot_released" v 1 touches(lot_id) wish Release for lot_id: LotId
    {}
    optional {
        /// Jars kept back (SA-1).
        samples_kept: Count,
        /// Whether smell and taste were right; absent means nobody tasted.
        tastes_right: bool,
        /// In words.
        reason: Text,
    }
}

entry! {
    /// Honey was taken from a lot as a sample.
    LotSampled = "lot_sampled" v 1 touches(lot_id) wish SampleLot for lot_id: LotId
    {
        /// How much.
        weight_g: Grams,
    }
    optional {}
}

entry! {
    /// Honey of a lot was lost.
    HoneyWasted = "honey_wasted" v 1 touches(lot_id) wish Waste for lot_id: LotId
    {
        /// How much.
        weight_g: Grams,
        /// How.
        reason: Text,
    }
    optional {}
}

/// One release.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
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
    fn take_in(&mut self, told: &Told<'_>, code: LotCode, parts: &[Part], claim: Option<Claim>) {
        if !self.parts.is_empty() && self.taken_out.iter().any(|taken| taken.into.kind == SubjectKind::Batch) {
            let jars = self.taken_out.iter().map(|taken| Side {
                entry_id: taken.entry_id,
                at: taken.at,
                names: Some(taken.into),
                amount: Some(taken.weight_g),
            });
            let jars: Vec<Side> = jars.collect();
            self.flag(FlagCode::LateForBottledLot, jars.into_iter().chain([Side::of(told)]));
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
                unseen.into_iter().chain([Side::of(told)]),
            );
        }
        self.releases.push(Released {
            entry_id: told.id(),
            at: told.at(),
            by: told.recorded.author,
            samples_kept: released.samples_kept,
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
                sides.into_iter().chain([Side::of(told)]),
            );
        }
    }

    fn taken(&mut self, told: &Told<'_>, weight_g: i64, into: impl Into<Subject>) {
        self.taken_out.push(TakenOut {
            entry_id: told.id(),
            at: told.at(),
            weight_g,
            into: into.into(),
        });
    }

    fn blend(&mut self, told: &Told<'_>, blended: &Blended) {
        if told.about == blended.lot_id.into() {
            self.take_in(told, blended.code, &blended.parts, blended.claim);
            return;
        }
        let of_this = blended.parts.iter().filter(|part| part.from == told.about);
        let weight_g = of_this.map(|part| part.weight_g.get()).sum();
        self.taken(told, weight_g, blended.lot_id);
    }

    fn recount(&mut self) {
        let held = self.made_g() - self.samples_g - self.wasted_g;
        let out: i64 = self.taken_out.iter().map(|taken| taken.weight_g).sum();
        self.content_g = held - out;
        if self.made_at.is_some() {
            let taken = std::mem::take(&mut self.taken_out);
            take_out(self, &taken, held);
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
                self.take_in(told, drawn.code, &[part], drawn.claim);
            }
            Entry::Blended(blended) => self.blend(told, blended),
            Entry::LotDescribed(described) => {
                retell(&mut self.claim, described.claim.as_ref());
                retell(&mut self.name, described.name.as_ref());
                retell(&mut self.claim_reason, described.claim_reason.as_ref());
            }
            Entry::HoneyStirred(_) => {
                self.mixed_at = Some(told.at());
                self.readings.clear();
            }
            Entry::MoistureRead(read) => self.readings.push(Reading::of(told, read)),
            Entry::LotReleased(released) => self.release(told, memo, released),
            Entry::HoldSet(_) => self.hold(told, memo),
            Entry::Bottled(bottled) => self.taken(told, bottled.used_g(), bottled.batch_id),
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
        if self.standing_holds().next().is_some() {
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
