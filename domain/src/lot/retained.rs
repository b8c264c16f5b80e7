//! Jars kept back of each lot, where they stand, and how long (SA-1).

use chrono::{DateTime, Months, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::house::House;
use crate::ids::LotId;
use crate::text::Name;

/// Kept so long after best before (SA-1). Common practice, no source.
const AFTER_BEST_BEFORE: Months = Months::new(6);

/// Jars kept back of one lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Retained {
    /// The lot.
    pub lot_id: LotId,
    /// How many.
    pub jars: i64,
    /// Since when.
    pub since: DateTime<Utc>,
    /// Where they stand, if somebody wrote it.
    pub place: Option<Name>,
    /// The last day on which they are kept.
    pub keep_until: Option<NaiveDate>,
}

/// The jars kept back of every lot that was released with some: until half a year after the last best-before of its
/// jars, or of jars that would have been filled on the day of the release.
#[must_use]
pub fn retained(house: &House) -> Vec<Retained> {
    let settings = house.settings();
    let rules = settings.rules();
    let kept = house.lots().filter_map(|(lot_id, lot)| {
        let released = lot.released()?;
        let jars = released.samples_kept.filter(|kept| kept.get() > 0)?.get();
        let of_lot = house.batches().filter(|(_, batch)| batch.lots().any(|of| of == lot_id));
        let last = of_lot.filter_map(|(_, batch)| batch.best_before(rules)).max();
        let best_before = last.or_else(|| rules.best_before(released.at.date_naive()));
        Some(Retained {
            lot_id,
            jars,
            since: released.at,
            place: released.samples_place.clone(),
            keep_until: best_before.and_then(|day| day.checked_add_months(AFTER_BEST_BEFORE)),
        })
    });
    kept.collect()
}
