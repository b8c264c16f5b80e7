//! Colonies that one person found dead and another found alive after that (CF-16). Nobody decides here which is right:
//! most often one of them stood before another hive.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Colony, ColonyEnd};
use crate::house::House;
use crate::ids::{ColonyId, EntryId, HiveId, YardId};
use crate::inspection::LifeSign;
use crate::subject::Subject;
use crate::yard::Counted;

/// A colony said to be dead and seen alive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Disputed {
    /// The colony.
    pub colony_id: ColonyId,
    /// The hive it lived in.
    pub hive_id: HiveId,
    /// The entry that tells of its end.
    pub ended_by: EntryId,
    /// When that was.
    pub ended_at: DateTime<Utc>,
    /// The entry that tells of life after it.
    pub seen_by: EntryId,
    /// When that was.
    pub seen_at: DateTime<Utc>,
}

impl Colony {
    /// The hive it lived in at a time, as long as nobody told of its end.
    fn home_at(&self, at: DateTime<Utc>) -> Option<HiveId> {
        let home = self.homes.iter().rev().find(|home| home.from <= at)?;
        let gone = self
            .ended
            .as_ref()
            .is_some_and(|end| end.at <= at && end.at >= home.from);
        (!gone).then_some(home.hive_id)
    }
}

/// Every colony that was found dead or gone, and whose hive had bees in it after that although no other colony is written
/// down as living there.
#[must_use]
pub fn disputed(house: &House) -> Vec<Disputed> {
    let found = house.colonies().filter_map(|(colony_id, colony)| {
        let ended = colony.ended.as_ref()?;
        if !matches!(ended.how, ColonyEnd::Dead | ColonyEnd::Absconded) {
            return None;
        }
        let home = colony.homes.iter().rev().find(|home| home.from <= ended.at)?;
        // Put into another hive after its end, it is flagged by itself.
        let of_another = |sign: &LifeSign| {
            let lives_there = |other: &Colony| other.home_at(sign.at) == Some(home.hive_id);
            house
                .colonies()
                .any(|(id, other)| id != colony_id && lives_there(other))
        };
        let signs = house.hive(home.hive_id)?.alive.iter();
        let seen = signs.filter(|sign| sign.at > ended.at).find(|sign| !of_another(sign))?;
        Some(Disputed {
            colony_id,
            hive_id: home.hive_id,
            ended_by: ended.entry_id,
            ended_at: ended.at,
            seen_by: seen.entry_id,
            seen_at: seen.at,
        })
    });
    found.collect()
}

impl Disputed {
    /// The yard its hive stood in when it was found dead.
    #[must_use]
    pub fn yard(&self, house: &House) -> Option<YardId> {
        house.hive(self.hive_id)?.yard_at(self.ended_at)
    }

    /// By how much a count of colonies of its yard may be too high and too low because of it. Dead after the day that is
    /// counted for, it counts all the same (AN-3). Who counted without knowing of the end may have counted it; who knew of
    /// the end, not; and who knew of both has decided (CF-4).
    #[must_use]
    pub fn in_doubt(&self, house: &House, yard: YardId, count: &Counted) -> (i64, i64) {
        let mark = |subject: Subject, entry| house.get(subject)?.mark(entry);
        let Some(counted) = mark(yard.into(), count.entry_id) else {
            return (0, 0);
        };
        let knew = |subject: Subject, entry| mark(subject, entry).is_none_or(|mark| counted.knew_of(&mark));
        if self.ended_at.date_naive() > count.on {
            (0, 0)
        } else if !knew(self.colony_id.into(), self.ended_by) {
            (1, 0)
        } else if knew(self.hive_id.into(), self.seen_by) {
            (0, 0)
        } else {
            (0, 1)
        }
    }
}
