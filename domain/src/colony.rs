//! A colony: the living bees and their queen line. Yields, treatments and deaths belong to it (ID-1). Founded, alive, and
//! ended in one of five ways (ST-2); the day on which it was found dead is no day of death.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::{Common, FlagCode, Side, state};
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{ColonyId, EntryId, HiveId};
use crate::subject::SubjectKind;
use crate::text::{Name, Text};
use crate::yard::retell;

/// How a colony began (ST-2).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Founding {
    /// Bought without comb.
    Package,
    /// A small starter colony.
    Nucleus,
    /// Caught.
    Swarm,
    /// Made from another colony.
    Split,
    /// Was there when writing began.
    Wintered,
}

/// How a colony ended (ST-2).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ColonyEnd {
    /// Found dead; the day of death is not known.
    Dead,
    /// Joined to another.
    United,
    /// Went to somebody else.
    Sold,
    /// Destroyed by order of the authority.
    DestroyedByOrder,
    /// Left.
    Absconded,
}

entry! {
    /// A colony was founded or first written down.
    ColonyRegistered = "colony_registered" v 1 touches(colony_id)
    {
        /// The bees.
        colony_id: ColonyId,
        /// Where they live.
        hive_id: HiveId,
    }
    optional {
        /// How they began.
        founding: Founding,
        /// The colony they came from.
        parent_id: ColonyId,
        /// The line of the queen.
        queen_line: Name,
    }
}

entry! {
    /// Words about a colony changed.
    ColonyDescribed = "colony_described" v 1 touches(colony_id) wish DescribeColony for colony_id: ColonyId
    {}
    optional {
        /// The line of the queen.
        queen_line: Name,
    }
}

entry! {
    /// The colony has a new queen: given, or raised by the bees themselves.
    ColonyRequeened = "colony_requeened" v 1 touches(colony_id) wish Requeen for colony_id: ColonyId
    {
        /// The day from which on she reigns.
        on: NaiveDate,
    }
    optional {
        /// Her line; absent where nobody knows it.
        queen_line: Name,
        /// Words.
        text: Text,
    }
}

entry! {
    /// The bees were put into another hive.
    ColonyMoved = "colony_moved" v 1 touches(colony_id) wish MoveColony for colony_id: ColonyId
    {
        /// Where they live now.
        hive_id: HiveId,
    }
    optional {}
}

entry! {
    /// The colony is no more.
    ColonyEnded = "colony_ended" v 1 touches(colony_id) wish EndColony for colony_id: ColonyId
    {
        /// How.
        how: ColonyEnd,
    }
    optional {
        /// The colony that goes on with its bees.
        united_into: ColonyId,
    }
}

/// One stay of a colony in a hive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Home {
    /// The entry that put it there.
    pub entry_id: EntryId,
    /// The hive.
    pub hive_id: HiveId,
    /// Since when.
    pub from: DateTime<Utc>,
}

/// A queen of a colony.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Queen {
    /// The entry that first told of her.
    pub entry_id: EntryId,
    /// The day from which on she reigns; the first is taken to have been there before.
    pub from: NaiveDate,
    /// Her line, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<Name>,
}

/// The end of a colony.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Ended {
    /// The entry.
    pub entry_id: EntryId,
    /// When it was found or done.
    pub at: DateTime<Utc>,
    /// How.
    pub how: ColonyEnd,
    /// The colony that goes on with its bees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub united_into: Option<ColonyId>,
}

mod disputed;

pub use disputed::{Disputed, disputed};

state! {
    /// Bees with a queen.
    Colony {
        /// The hives it lived in, in order.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        homes: Vec<Home>,
        /// How it began.
        #[serde(skip_serializing_if = "Option::is_none")]
        founding: Option<Founding>,
        /// The colony it came from.
        #[serde(skip_serializing_if = "Option::is_none")]
        parent_id: Option<ColonyId>,
        /// The line of its newest queen.
        #[serde(skip_serializing_if = "Option::is_none")]
        queen_line: Option<Name>,
        /// Its queens, in order.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        queens: Vec<Queen>,
        /// How it ended.
        #[serde(skip_serializing_if = "Option::is_none")]
        ended: Option<Ended>,
    }
}

impl Colony {
    /// Raises a flag where something happened after the end.
    fn after_the_end(&mut self, side: Side) {
        if let Some(ended) = &self.ended {
            let end = Side {
                entry_id: ended.entry_id,
                at: ended.at,
                names: None,
                amount: None,
            };
            self.flag(FlagCode::AfterTheEnd, [end, side]);
        }
    }

    fn lives_in(&mut self, told: &Told<'_>, hive_id: HiveId) {
        self.after_the_end(Side::of(told).naming(hive_id));
        self.homes.push(Home {
            entry_id: told.id(),
            hive_id,
            from: told.at(),
        });
    }
}

impl Colony {
    /// The queen that reigned on a day; before the first of whom anybody told, that one.
    #[must_use]
    pub fn queen_on(&self, day: NaiveDate) -> Option<&Queen> {
        let reigns = self.queens.iter().rev().find(|queen| queen.from <= day);
        reigns.or_else(|| self.queens.first())
    }

    fn crown(&mut self, told: &Told<'_>, from: NaiveDate, line: Option<&Name>) {
        self.queens.push(Queen {
            entry_id: told.id(),
            from,
            line: line.cloned(),
        });
        self.queens.sort_by_key(|queen| queen.from);
    }

    /// The line of the queen that was there when it was told.
    fn tell_line(&mut self, told: &Told<'_>, line: Option<&Name>) {
        let Some(line) = line else { return };
        let at = self.queens.iter().rposition(|queen| queen.from <= told.on());
        match self.queens.get_mut(at.unwrap_or(0)) {
            Some(queen) => queen.line = Some(line.clone()),
            None => self.crown(told, told.on(), Some(line)),
        }
    }
}

impl Aggregate for Colony {
    const KIND: SubjectKind = SubjectKind::Colony;

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        match told.entry {
            Entry::ColonyRegistered(colony) => {
                self.lives_in(told, colony.hive_id);
                retell(&mut self.founding, colony.founding.as_ref());
                retell(&mut self.parent_id, colony.parent_id.as_ref());
                self.crown(told, told.on(), colony.queen_line.as_ref());
            }
            Entry::ColonyDescribed(colony) => self.tell_line(told, colony.queen_line.as_ref()),
            Entry::ColonyRequeened(new) => {
                self.after_the_end(Side::of(told));
                self.crown(told, new.on, new.queen_line.as_ref());
            }
            Entry::ColonyMoved(moved) => self.lives_in(told, moved.hive_id),
            // The first to tell an end gives its time; later ones are witnesses.
            Entry::ColonyEnded(end) if self.ended.is_none() => {
                memo.remember(told);
                let (how, united_into) = (end.how, end.united_into);
                self.ended = Some(Ended {
                    entry_id: told.id(),
                    at: told.at(),
                    how,
                    united_into,
                });
            }
            _ => {}
        }
        self.queen_line = self.queens.last().and_then(|queen| queen.line.clone());
    }

    fn label(&self) -> Option<String> {
        self.queen_line.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        match self.ended.as_ref().map(|ended| ended.how) {
            None => "alive",
            Some(ColonyEnd::Dead) => "dead",
            Some(ColonyEnd::United) => "united",
            Some(ColonyEnd::Sold) => "sold",
            Some(ColonyEnd::DestroyedByOrder) => "destroyed_by_order",
            Some(ColonyEnd::Absconded) => "absconded",
        }
    }
}
