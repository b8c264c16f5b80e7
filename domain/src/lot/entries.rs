//! What can be told about a lot.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, HoldReason, set_hold};
use crate::entry::entry;
use crate::fill::Part;
use crate::fold::{Memo, Told};
use crate::form::Form;
use crate::ids::{EntryId, FillId, LotId, MemberId};
use crate::limits::Claim;
use crate::lot_code::LotCode;
use crate::subject::Subject;
use crate::text::{Name, Text};
use crate::units::{Count, Grams};

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
        /// Where they stand.
        samples_place: Name,
        /// Whether smell and taste were right; absent means nobody tasted.
        tastes_right: bool,
        /// In words.
        reason: Text,
    }
}

/// How honey ended otherwise than by use or sale (ST-8, ST-9).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HoneyEnd {
    /// Taken off sale.
    Withdrawn,
    /// Called back from the buyers.
    Recalled,
    /// Done away with. Its kilograms are told as losses besides.
    Destroyed,
    /// Sold as baker's honey only, for cooking.
    Downgraded,
}

impl HoneyEnd {
    /// The end in one word, as sent.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Withdrawn => "withdrawn",
            Self::Recalled => "recalled",
            Self::Destroyed => "destroyed",
            Self::Downgraded => "downgraded",
        }
    }
}

entry! {
    /// A lot or a batch of jars was withdrawn, recalled, destroyed or downgraded by a named person (ST-8, ST-9). All but
    /// the last bar its use, and that of what is made of it, until that person or another ends the hold.
    HoneyEnded = "honey_ended" v 1 touches(target)
    {
        /// The lot or batch.
        target: Subject,
        /// How.
        how: HoneyEnd,
        /// Why.
        reason: Text,
    }
    optional {}
}

/// The end of a lot or a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Gone {
    /// The entry, which is also that of the hold.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: MemberId,
    /// How.
    pub how: HoneyEnd,
}

/// Takes an end in: it bars the thing, except where it is only sold as less than it was.
pub(crate) fn end_honey(state: &mut dyn Common, (told, memo): (&Told<'_>, &mut Memo), ended: &HoneyEnded) -> Gone {
    if ended.how != HoneyEnd::Downgraded {
        set_hold(state, told, memo, HoldReason::Other, Some(ended.reason.clone()));
    }
    Gone {
        entry_id: told.id(),
        at: told.at(),
        by: told.recorded.author,
        how: ended.how,
    }
}

/// The word for an end, unless its hold was ended and it is in use again.
pub(crate) fn ended_as<C: Common>(state: &C, gone: Option<&Gone>) -> Option<&'static str> {
    let gone = gone?;
    let bars = state.standing_holds().any(|hold| hold.hold_id == gone.entry_id);
    (bars || gone.how == HoneyEnd::Downgraded).then(|| gone.how.name())
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
