//! Who lived in which hive when, and which bees came from which: bees take what they carry along (TX-3).

use chrono::{DateTime, Utc};

use crate::colony::ColonyEnd;
use crate::house::House;
use crate::ids::{ColonyId, HiveId};
use crate::ordered::Map;

/// What carries medicine, feed or sickness: named bees, or the bees of a hive that nobody named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Carrier {
    /// Bees that are written down as a colony.
    Colony(ColonyId),
    /// Whoever lives in the hive.
    Hive(HiveId),
}

/// A time in a hive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stay {
    /// The hive.
    pub hive: HiveId,
    /// Since when; nothing if it was always so.
    pub from: Option<DateTime<Utc>>,
    /// Until when; nothing if it still is so.
    pub until: Option<DateTime<Utc>>,
}

#[derive(Clone, Copy, Debug)]
struct Lodger {
    colony: ColonyId,
    from: DateTime<Utc>,
    until: Option<DateTime<Utc>>,
    /// The bees died or left; what was in the hive with them still is.
    gone_at: Option<DateTime<Utc>>,
}

/// All colonies with their hives, read off once.
#[derive(Debug, Default)]
pub(super) struct Dwellings {
    homes: Map<ColonyId, Vec<Stay>>,
    lodgers: Map<HiveId, Vec<Lodger>>,
    /// Bees that came from other bees, by split or uniting, and when.
    heirs: Map<ColonyId, Vec<(ColonyId, DateTime<Utc>)>>,
}

impl Dwellings {
    pub(super) fn of(house: &House) -> Self {
        let mut this = Self::default();
        for (id, colony) in house.colonies() {
            let ended = colony.ended.as_ref();
            let left_for_good = ended.filter(|end| match end.how {
                ColonyEnd::United => end.united_into.is_some(),
                ColonyEnd::Sold | ColonyEnd::DestroyedByOrder => true,
                ColonyEnd::Dead | ColonyEnd::Absconded => false,
            });
            for (at, home) in colony.homes.iter().enumerate() {
                let next = colony.homes.get(at + 1).map(|home| home.from);
                let last = left_for_good.map(|end| end.at).filter(|end| *end >= home.from);
                let until = next.or(last);
                this.homes.entry(id).or_default().push(Stay {
                    hive: home.hive_id,
                    from: Some(home.from),
                    until,
                });
                this.lodgers.entry(home.hive_id).or_default().push(Lodger {
                    colony: id,
                    from: home.from,
                    until,
                    gone_at: ended.map(|end| end.at).filter(|end| *end >= home.from),
                });
            }
            if let (Some(parent), Some(first)) = (colony.parent_id, colony.homes.first()) {
                this.heirs.entry(parent).or_default().push((id, first.from));
            }
            if let Some((into, at)) = ended.and_then(|end| Some((end.united_into?, end.at))) {
                this.heirs.entry(id).or_default().push((into, at));
            }
        }
        this
    }

    /// What carries whatever is put into a hive at a time.
    pub(super) fn carriers(&self, hive: HiveId, at: DateTime<Utc>) -> Vec<Carrier> {
        let living = self.lodgers.get(&hive).into_iter().flatten().filter(|lodger| {
            let until = match (lodger.until, lodger.gone_at) {
                (Some(until), Some(gone)) => Some(until.min(gone)),
                (until, gone) => until.or(gone),
            };
            lodger.from <= at && until.is_none_or(|until| at < until)
        });
        let colonies: Vec<Carrier> = living.map(|lodger| Carrier::Colony(lodger.colony)).collect();
        if colonies.is_empty() {
            vec![Carrier::Hive(hive)]
        } else {
            colonies
        }
    }

    /// Where a carrier was from a time on, in order.
    pub(super) fn stays(&self, carrier: Carrier, from: DateTime<Utc>) -> Vec<Stay> {
        let all = match carrier {
            Carrier::Hive(hive) => vec![Stay {
                hive,
                from: None,
                until: None,
            }],
            Carrier::Colony(colony) => self.homes.get(&colony).cloned().unwrap_or_default(),
        };
        all.into_iter()
            .filter(|stay| stay.until.is_none_or(|until| until >= from))
            .map(|stay| Stay {
                from: Some(stay.from.map_or(from, |begin| begin.max(from))),
                ..stay
            })
            .collect()
    }

    /// The bees that a carrier passes on to from a time on: its heirs, and bees that are put into its hive.
    pub(super) fn passed_on(
        &self,
        carrier: Carrier,
        stays: &[Stay],
        from: DateTime<Utc>,
    ) -> Vec<(Carrier, DateTime<Utc>)> {
        let mut to = Vec::new();
        if let Carrier::Colony(colony) = carrier {
            let heirs = self.heirs.get(&colony).into_iter().flatten();
            to.extend(
                heirs
                    .filter(|(_, at)| *at >= from)
                    .map(|(heir, at)| (Carrier::Colony(*heir), *at)),
            );
        }
        for stay in stays {
            let moved_in = self.lodgers.get(&stay.hive).into_iter().flatten().filter(|lodger| {
                stay.from.is_none_or(|begin| lodger.from >= begin) && stay.until.is_none_or(|end| lodger.from < end)
            });
            to.extend(moved_in.map(|lodger| (Carrier::Colony(lodger.colony), lodger.from)));
        }
        to.retain(|(other, _)| *other != carrier);
        to
    }

    /// The hive a colony lives in.
    pub(super) fn home_at(&self, colony: ColonyId, at: DateTime<Utc>) -> Option<HiveId> {
        let homes = self.homes.get(&colony)?;
        let home = homes
            .iter()
            .rev()
            .find(|stay| stay.from.is_none_or(|from| from <= at) && stay.until.is_none_or(|until| at < until));
        home.map(|stay| stay.hive)
    }
}
