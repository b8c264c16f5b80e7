//! What can be told about a super.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::allocation::BoxClass;
use crate::entry::entry;
use crate::form::Form;
use crate::ids::{HiveId, ScaleId, SuperId, YardId};
use crate::text::{Name, Text};
use crate::units::{FrameCount, Grams, Percent, Quarters};

/// What the combs were when the box went on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Comb {
    /// Built combs, dry.
    Drawn,
    /// Wax sheets.
    Foundation,
    /// Extracted combs, still sticky.
    Wet,
    /// Comb to be sold as such.
    CutComb,
    /// Combs of the brood nest, moved up (FE-3).
    Brood,
}

/// How a box left the count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SuperEnd {
    /// Broken up.
    Scrapped,
    /// Not found again.
    Lost,
    /// Burnt by order of the authority.
    BurntByOrder,
    /// Became a brood box.
    BroodBox,
}

entry! {
    /// A box got its number.
    SuperRegistered = "super_registered" v 1 touches(super_id)
    {
        /// The box.
        super_id: SuperId,
        /// The number painted on it; not unique until proved (ID-2).
        number: Name,
        /// Its height.
        class: BoxClass,
        /// Frames in it.
        frames: FrameCount,
    }
    optional {
        /// What it weighs dry, if it was weighed.
        tare_g: Grams,
    }
}

entry! {
    /// Words about a box changed.
    SuperDescribed = "super_described" v 1 touches(super_id) wish DescribeSuper for super_id: SuperId
    {}
    optional {
        /// The number painted on it.
        number: Name,
        /// Its height.
        class: BoxClass,
        /// Frames in it.
        frames: FrameCount,
        /// What it weighs dry.
        tare_g: Grams,
    }
}

entry! {
    /// A super was put on a hive.
    SuperPlaced = "super_placed" v 1 touches(super_id) wish Place for super_id: SuperId
    {
        /// The hive.
        hive_id: HiveId,
    }
    optional {
        /// What its combs were.
        comb: Comb,
    }
}

entry! {
    /// A super was shifted from one hive to another.
    SuperMoved = "super_moved" v 1 touches(super_id) wish Shift for super_id: SuperId
    {
        /// Where it stood.
        from_hive_id: HiveId,
        /// Where it stands now.
        to_hive_id: HiveId,
    }
    optional {}
}

entry! {
    /// A super was taken off. What is absent was not looked at (ID-9).
    SuperPulled = "super_pulled" v 1 touches(super_id) wish Pull for super_id: SuperId
    {}
    optional {
        /// The hive it came from, if somebody said so.
        hive_id: HiveId,
        /// How full it was, in quarters.
        fullness_quarters: Quarters,
        /// Full frames, where they were counted.
        full_frames: FrameCount,
        /// Sealed comb, per cent.
        capped_percent: Percent,
        /// Whether brood was seen in it.
        brood_seen: bool,
    }
}

entry! {
    /// A super was left stacked in a yard.
    SuperLeftInYard = "super_left_in_yard" v 1 touches(super_id) wish LeaveInYard for super_id: SuperId
    {
        /// The yard.
        yard_id: YardId,
    }
    optional {}
}

entry! {
    /// A super went on the truck.
    SuperLoaded = "super_loaded" v 1 touches(super_id) wish Load for super_id: SuperId
    {}
    optional {
        /// Where it was loaded.
        yard_id: YardId,
    }
}

entry! {
    /// A super came into the honey house.
    SuperReceived = "super_received" v 1 touches(super_id) wish Receive for super_id: SuperId
    {}
    optional {
        /// Box, combs and honey together.
        gross_g: Grams,
        /// The scale.
        scale_id: ScaleId,
    }
}

entry! {
    /// A full super was weighed again.
    SuperWeighed = "super_weighed" v 1 touches(super_id) wish WeighSuper for super_id: SuperId
    {
        /// Box, combs and honey together.
        gross_g: Grams,
    }
    optional {
        /// The scale.
        scale_id: ScaleId,
        /// Why it is lighter than before: slumped combs, robbing, a fall. What is missing is then a loss and no doubt
        /// about the scale (MB-4).
        lost: Text,
    }
}

entry! {
    /// A super was put away.
    SuperStored = "super_stored" v 1 touches(super_id) wish StoreSuper for super_id: SuperId
    {
        /// Whether its combs were still sticky.
        wet: bool,
    }
    optional {
        /// Where.
        place: Name,
    }
}

entry! {
    /// A box is no longer a super.
    SuperScrapped = "super_scrapped" v 1 touches(super_id) wish Scrap for super_id: SuperId
    {
        /// How it ended.
        how: SuperEnd,
    }
    optional {}
}
