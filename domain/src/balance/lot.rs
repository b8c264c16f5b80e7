//! Where the honey of one lot, its labels and its jars went (MB-5, MB-6, RC-2).

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Band;
use crate::batch::Batch;
use crate::content::differences_g;
use crate::form::Form;
use crate::house::House;
use crate::ids::LotId;
use crate::subject::SubjectKind;
use crate::units::{Count, Grams};

/// Where the honey of one lot went, grams (MB-5). Jars count with their declared content. Everything but `made_g`
/// adds up to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, Form, ToSchema)]
pub struct LotBalance {
    /// Honey that came in.
    pub made_g: i64,
    /// In jars that were sold and did not come back.
    pub sold_g: i64,
    /// In jars that were given away or eaten at home.
    pub given_g: i64,
    /// Samples, drawn or in jars.
    pub samples_g: i64,
    /// Written off, and the honey of broken jars.
    pub waste_g: i64,
    /// Blended into other lots.
    pub into_lots_g: i64,
    /// Still in the lot.
    pub in_bulk_g: i64,
    /// In jars in stock that never left.
    pub in_jars_g: i64,
    /// In jars that came back; they are kept apart.
    pub came_back_g: i64,
    /// What nobody can explain: jars filled above or below their declared content, and what counts brought to light.
    pub unexplained_g: i64,
}

/// The balance of one lot (MB-5); nothing if it was never made. Jars of which another lot is a candidate too are among
/// the unexplained, by what left the lot for them.
#[must_use]
pub fn lot_balance(house: &House, id: LotId) -> Option<LotBalance> {
    let lot = house.lot(id).filter(|lot| lot.made_at.is_some())?;
    let into = |kind: SubjectKind| -> i64 {
        let taken = lot.taken_out.iter().filter(|taken| taken.into.kind == kind);
        taken.map(|taken| taken.weight_g).sum()
    };
    let mut sums = LotBalance {
        made_g: lot.made_g(),
        samples_g: lot.samples_g,
        waste_g: lot.wasted_g,
        into_lots_g: into(SubjectKind::Lot),
        in_bulk_g: lot.content_g,
        unexplained_g: into(SubjectKind::Batch) - differences_g(&lot.differences),
        ..LotBalance::default()
    };
    let of_this = |batch: &&Batch| batch.lot_id == Some(id) && batch.or_lot_ids.is_empty();
    for batch in house.batches().map(|(_, batch)| batch).filter(of_this) {
        let nominal_g = batch.nominal_g.map_or(0, Grams::get);
        let back: i64 = batch.returned.iter().map(|moved| moved.jars).sum();
        let back = back.clamp(0, batch.jars_in_stock.max(0));
        sums.sold_g += batch.jars_sold() * nominal_g;
        sums.given_g += (batch.given + batch.own_use) * nominal_g;
        sums.samples_g += batch.samples * nominal_g;
        sums.into_lots_g += batch.reworked * nominal_g;
        sums.waste_g += (batch.broken + batch.jars_broken) * nominal_g;
        sums.in_jars_g += (batch.jars_in_stock - back) * nominal_g;
        sums.came_back_g += back * nominal_g;
        // What is told of these jars is explained; what of them is not stays where it was.
        let told = batch.jars_good - batch.jars_unexplained() + batch.jars_broken;
        sums.unexplained_g -= told * nominal_g;
    }
    Some(sums)
}

impl LotBalance {
    /// All that the honey became, which is what was made.
    #[must_use]
    pub const fn accounted_g(&self) -> i64 {
        let jars_g = self.sold_g + self.given_g + self.in_jars_g + self.came_back_g;
        jars_g + self.samples_g + self.waste_g + self.into_lots_g + self.in_bulk_g + self.unexplained_g
    }
}

/// Where the labels of a batch went (MB-6).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, Form, ToSchema)]
pub struct LabelBalance {
    /// Printed.
    pub printed: i64,
    /// On jars.
    pub used: i64,
    /// Spoilt.
    pub spoilt: i64,
    /// Left over; below nothing if more were told to be used or spoilt than printed.
    pub left: i64,
    /// Labels on jars less jars filled good: nothing, if each jar bears one.
    pub more_than_jars: i64,
}

/// The balance of the labels of a batch (MB-6).
#[must_use]
pub fn label_balance(batch: &Batch) -> LabelBalance {
    let sum = |of: fn(&crate::batch::LabelsUsed) -> i64| -> i64 { batch.labels.iter().map(of).sum() };
    let (printed, used) = (sum(|labels| labels.printed.get()), sum(|labels| labels.used.get()));
    let spoilt = sum(|labels| labels.spoilt.map_or(0, Count::get));
    LabelBalance {
        printed,
        used,
        spoilt,
        left: printed - used - spoilt,
        more_than_jars: used - batch.jars_good,
    }
}

/// Whether the jars of a batch are explained (RC-2): the base is the jars filled good, and up to 2 % that nobody can
/// explain are green. Our own choice.
#[must_use]
pub fn jars_band(batch: &Batch) -> Band {
    let unexplained = batch.jars_unexplained();
    if unexplained.abs() * 50 <= batch.jars_good {
        Band::Green
    } else {
        Band::Amber
    }
}
