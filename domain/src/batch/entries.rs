//! What can be told about jars.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::entry;
use crate::form::Form;
use crate::ids::{BatchId, LotId};
use crate::limits::Claim;
use crate::lot_code::LotCode;
use crate::text::{Name, Text};
use crate::units::{Count, Grams};

/// How jars left the stock without being sold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JarsWent {
    /// Given away.
    Given,
    /// Broken; their honey is waste.
    Broken,
    /// Kept back or opened as samples.
    Samples,
    /// Eaten at home.
    OwnUse,
}

entry! {
    /// Jars were filled from a lot.
    Bottled = "bottled" v 1 touches(batch_id, lot_id) wish Bottle for lot_id: LotId
    {
        /// The batch.
        batch_id: BatchId,
        /// The code on its jars (LO-2).
        code: LotCode,
        /// Net content as declared, each jar.
        nominal_g: Grams,
        /// Jars filled good.
        jars_good: Count,
    }
    optional {
        /// Jars broken in filling.
        jars_broken: Count,
        /// Honey that left the lot, if it was weighed; else jars by their declared content.
        used_g: Grams,
        /// What the jars are sold as.
        product: Name,
        /// Which label they get.
        label_version: Name,
    }
}

entry! {
    /// Full jars were weighed (NC-3).
    WeightsChecked = "weights_checked" v 1 touches(batch_id) wish CheckWeights for batch_id: BatchId
    {
        /// Net content of each jar, tenths of a gram.
        net_tenths_g: Vec<i64>,
    }
    optional {
        /// The jars were topped up since they were last weighed: earlier weights no longer speak for them.
        topped_up: bool,
    }
}

entry! {
    /// Labels were printed and used (MB-6).
    Labelled = "labelled" v 1 touches(batch_id) wish Label for batch_id: BatchId
    {
        /// Labels printed.
        printed: Count,
        /// Labels on jars.
        used: Count,
    }
    optional {
        /// Labels spoilt.
        spoilt: Count,
        /// Which label.
        label_version: Name,
        /// Best before; two years from filling where nobody says otherwise (FI-3).
        best_before: NaiveDate,
    }
}

entry! {
    /// Jars were put away.
    BatchStored = "batch_stored" v 1 touches(batch_id) wish StoreBatch for batch_id: BatchId
    {
        /// Where.
        place: Name,
    }
    optional {}
}

entry! {
    /// Jars left the stock without being sold.
    JarsTakenOut = "jars_taken_out" v 1 touches(batch_id) wish TakeJarsOut for batch_id: BatchId
    {
        /// How many.
        jars: Count,
        /// How.
        went: JarsWent,
    }
    optional {
        /// In words.
        reason: Text,
    }
}

entry! {
    /// Jars were emptied into a new lot, which has their batch as its parent (ST-9, ID-6).
    JarsReworked = "jars_reworked" v 1 touches(lot_id, batch_id)
    {
        /// The lot it became.
        lot_id: LotId,
        /// The lot's code (LO-2).
        code: LotCode,
        /// The batch.
        batch_id: BatchId,
        /// How many jars.
        jars: Count,
        /// Honey that came out of them.
        weight_g: Grams,
    }
    optional {
        /// Under what claim it is to be sold.
        claim: Claim,
        /// Why.
        reason: Text,
    }
}

entry! {
    /// Somebody complained about jars. The trace is read back from them; a second complaint about one lot asks for a
    /// hold (common practice, no source).
    ComplaintTold = "complaint_told" v 1 touches(batch_id) wish TellComplaint for batch_id: BatchId
    {
        /// What was wrong, in words.
        text: Text,
    }
    optional {
        /// How many jars.
        jars: Count,
    }
}

entry! {
    /// The jars in store were counted. A count never overwrites: the difference is posted with its reason (MB-7).
    StockCounted = "stock_counted" v 1 touches(batch_id) wish CountStock for batch_id: BatchId
    {
        /// Jars found.
        jars: Count,
    }
    optional {
        /// Why it differs from the book.
        reason: Text,
    }
}

impl Bottled {
    /// Honey that left the lot: as weighed, else by declared content of all jars, the broken ones too.
    #[must_use]
    pub fn used_g(&self) -> i64 {
        let jars = self.jars_good.get() + self.jars_broken.map_or(0, Count::get);
        self.used_g.map_or(jars * self.nominal_g.get(), Grams::get)
    }
}
