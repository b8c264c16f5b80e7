//! What can be told about a lot.

use crate::entry::entry;
use crate::fill::Part;
use crate::ids::{FillId, LotId};
use crate::limits::Claim;
use crate::lot_code::LotCode;
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
