//! What every thing can have: holds, flags and notes.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::{Entry, entry};
use crate::fold::{Memo, Told};
use crate::form::Form;
use crate::ids::EntryId;
use crate::subject::Subject;
use crate::text::Text;

mod hold;

pub use hold::*;

entry! {
    /// Somebody wrote something down.
    NoteWritten = "note_written" v 1 touches(about)
    {
        /// What it is about.
        about: Vec<Subject>,
        /// The words.
        text: Text,
    }
    optional {}
}

/// A remark.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Note {
    /// The entry it came with.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// The words.
    pub text: Text,
}

/// What does not add up, or is doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FlagCode {
    /// A box is said to stand on two hives (CF-7).
    OnTwoHives,
    /// A box was taken from another hive than it stood on.
    PulledFromOtherHive,
    /// A box was taken, weighed or spun that was never put on a hive.
    NeverPlaced,
    /// A box was taken twice (CF-2).
    AlreadyPulled,
    /// A box was spun twice without standing on a hive between (ST-11).
    ExtractedTwice,
    /// Two weighings of one thing differ too much (CF-10).
    WeightsDiffer,
    /// A wet box weighs more than it did full.
    WetHeavierThanFull,
    /// A box came to a run after the run was drained.
    AddedAfterDrained,
    /// Two who did not know of each other told alike of a draw, a sale or a blend: both count, but it may have been
    /// one (CF-2).
    ToldTwice,
    /// Two who did not know of each other told alike of feeding a hive: both count, but it may have been one (CF-2).
    FedTwice,
    /// Two tellings name two origins, and both stay in the trace (CF-4).
    OfTwoOrigins,
    /// A value that cannot be true was recorded all the same, as doubtful.
    Implausible,
    /// More was taken from a container or lot than it held (CF-9).
    Overdrawn,
    /// A lot was released by somebody who did not know of a hold (CF-12).
    ReleasedWithoutSightOfHold,
    /// More jars went out than were filled (ST-11).
    MoreOutThanFilled,
    /// Something was withdrawn by somebody who did not know that it had been corrected (CF-14).
    VoidedWithoutSight,
    /// A reading that cannot be the moisture of honey.
    ReadingCannotBe,
    /// An end was told twice, or something happened after the end.
    AfterTheEnd,
    /// An entry changed a lot that jars had been filled from before it arrived.
    LateForBottledLot,
    /// A brood box was put on as a super (FE-3).
    BroodBoxAsSuper,
    /// Something left a yard although the authority had stopped moves (DI-3).
    MovedUnderStandstill,
    /// Something on hold has left the house: look at the list of holders; nothing is recalled by itself (TX-4).
    LeftUnderHold,
    /// Medicine was seen in a hive after it was said to be out.
    SeenAfterTakenOut,
    /// A hold was ended by somebody who did not know of it, or of all that it covers: it stands (CF-12).
    LiftedWithoutSight,
    /// Goods left although their order was cancelled: they are delivered, and the cancellation asks for their return
    /// (CF-15).
    DeliveredThoughCancelled,
}

impl FlagCode {
    /// The doubt in a sentence.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::OnTwoHives => "this super was put on two hives, and neither person knew of the other",
            Self::PulledFromOtherHive => "this super was pulled from another hive than it was put on",
            Self::NeverPlaced => "this super was pulled or spun, but nobody wrote where it was put on",
            Self::AlreadyPulled => "this super was pulled twice without being put on between",
            Self::ExtractedTwice => "this super was spun twice without standing on a hive between",
            Self::WeightsDiffer => "two weighings differ by more than a scale explains",
            Self::WetHeavierThanFull => "this super weighs more spun than it did full",
            Self::AddedAfterDrained => "a super came to this run after it was drained",
            Self::ToldTwice => "two people told alike of this within twelve hours; count what is left to settle it",
            Self::FedTwice => "two people told the same feeding within twelve hours; withdraw one if it was one",
            Self::OfTwoOrigins => "two tellings name two origins; both stay in the trace",
            Self::Implausible => "a value that can hardly be true was recorded all the same",
            Self::Overdrawn => "more was taken out than there was",
            Self::ReleasedWithoutSightOfHold => "this lot was released without knowledge of a hold",
            Self::MoreOutThanFilled => "more jars went out than were filled",
            Self::VoidedWithoutSight => "an entry was withdrawn without knowledge of its correction",
            Self::ReadingCannotBe => "this reading cannot be the moisture of honey",
            Self::AfterTheEnd => "something happened after the end",
            Self::LateForBottledLot => "something arrived about this lot after jars had been filled from it",
            Self::BroodBoxAsSuper => "a brood box was put on as a super: its combs may hold feed and medicine",
            Self::MovedUnderStandstill => "this left a yard although the authority had stopped moves",
            Self::LeftUnderHold => "this is on hold and some of it has left the house: look at who has it",
            Self::SeenAfterTakenOut => "medicine was seen in this hive after it was said to be out",
            Self::LiftedWithoutSight => {
                "a hold was ended by somebody who did not know of all that it covers: it stands until somebody who does \
                 ends it"
            }
            Self::DeliveredThoughCancelled => {
                "this was delivered although it was cancelled: it is with the buyer, ask for it back or bill it"
            }
        }
    }
}

/// One side of a doubt: what an entry says.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
pub struct Side {
    /// The entry.
    pub entry_id: EntryId,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// What it names: the hive, the lot, the run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub names: Option<Subject>,
    /// The weight or count it tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<i64>,
}

impl Side {
    /// The side of the entry that is being folded.
    #[must_use]
    pub fn of(told: &Told<'_>) -> Self {
        Self {
            entry_id: told.id(),
            at: told.at(),
            names: None,
            amount: None,
        }
    }

    /// The same, with what it names.
    #[must_use]
    pub fn naming(mut self, subject: impl Into<Subject>) -> Self {
        self.names = Some(subject.into());
        self
    }

    /// The same, with what it weighs or counts.
    #[must_use]
    pub const fn telling(mut self, amount: i64) -> Self {
        self.amount = Some(amount);
        self
    }
}

/// A contradiction or doubt that somebody should look at. The cautious answer holds until then (CF-4).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Flag {
    /// Which doubt.
    pub code: FlagCode,
    /// What each entry says.
    pub sides: Vec<Side>,
}

/// The parts that every state has.
pub trait Common {
    /// The holds on it, ended ones too.
    fn holds(&self) -> &[Hold];
    /// For the fold.
    fn holds_mut(&mut self) -> &mut Vec<Hold>;
    /// Holds from elsewhere that ended for this thing.
    fn lifts(&self) -> &[Lift];
    /// For the fold.
    fn lifts_mut(&mut self) -> &mut Vec<Lift>;
    /// The doubts about it.
    fn flags(&self) -> &[Flag];
    /// For the fold.
    fn flags_mut(&mut self) -> &mut Vec<Flag>;
    /// For the fold.
    fn notes_mut(&mut self) -> &mut Vec<Note>;

    /// The holds that stand.
    fn standing_holds(&self) -> impl Iterator<Item = &Hold>
    where
        Self: Sized,
    {
        standing(self.holds())
    }

    /// Raises a flag; sides of an earlier flag of the same code are joined to it.
    fn flag(&mut self, code: FlagCode, sides: impl AsRef<[Side]>)
    where
        Self: Sized,
    {
        raise(self.flags_mut(), code, sides.as_ref());
    }

    /// Takes a flag back that a later entry has settled.
    fn unflag(&mut self, code: FlagCode)
    where
        Self: Sized,
    {
        settle(self.flags_mut(), code);
    }
}

// What follows is for every kind of thing the same code, compiled once: a phone has to fetch it.

fn standing(holds: &[Hold]) -> impl Iterator<Item = &Hold> {
    holds.iter().filter(|hold| hold.lifted.is_none())
}

fn raise(flags: &mut Vec<Flag>, code: FlagCode, sides: &[Side]) {
    let at = flags.iter().position(|flag| flag.code == code).unwrap_or_else(|| {
        flags.push(Flag {
            code,
            sides: Vec::new(),
        });
        flags.len() - 1
    });
    if let Some(flag) = flags.get_mut(at) {
        flag.sides.extend_from_slice(sides);
        flag.sides.sort();
        flag.sides.dedup();
    }
}

fn settle(flags: &mut Vec<Flag>, code: FlagCode) {
    flags.retain(|flag| flag.code != code);
}

/// How many remarks a state shows; older ones stay in the ledger.
const NOTES_SHOWN: usize = 20;

/// Folds what is the same for every kind of thing. Says whether the entry was such.
pub(crate) fn apply_common(state: &mut dyn Common, told: &Told<'_>, memo: &mut Memo) -> bool {
    if told.doubtful {
        raise(state.flags_mut(), FlagCode::VoidedWithoutSight, &[Side::of(told)]);
    }
    match told.entry {
        Entry::HoldSet(set) => {
            set_hold(state, told, memo, set.reason, set.text.clone());
            // The thing itself may have a view of holds (a release that did not know of one).
            false
        }
        Entry::HoldLifted(lift) => {
            memo.remember(told);
            let lifted = Lifted {
                entry_id: told.id(),
                at: told.at(),
                by: told.recorded.author,
                reason: lift.reason.clone(),
            };
            let own = state.holds().iter().find(|hold| hold.hold_id == lift.hold_id);
            match own.map(|hold| (hold.since, hold.lifted.is_none())) {
                Some((_, true)) if memo.knew(told, lift.hold_id) => {
                    let hold = state.holds_mut().iter_mut().find(|hold| hold.hold_id == lift.hold_id);
                    if let Some(hold) = hold {
                        hold.lifted = Some(lifted);
                    }
                    seen_after_all(state);
                }
                Some((since, true)) => without_sight(state, told.about, (lift.hold_id, since), &lifted),
                Some(_) => {}
                None => {
                    // A clock may put the end before the beginning: it is kept until the hold is met.
                    memo.keep_lift(lift.hold_id, lifted.clone(), told.recorded.mark());
                    // Or it came from elsewhere with the honey, and ends for this thing alone.
                    state.lifts_mut().push(Lift {
                        cause_id: lift.hold_id,
                        lifted,
                    });
                }
            }
            true
        }
        Entry::NoteWritten(note) => {
            let notes = state.notes_mut();
            notes.push(Note {
                entry_id: told.id(),
                at: told.at(),
                text: note.text.clone(),
            });
            if notes.len() > NOTES_SHOWN {
                notes.remove(0);
            }
            true
        }
        _ => false,
    }
}

/// Declares a state: its own fields and the four that every state has.
macro_rules! state {
    ($(#[$doc:meta])* $name:ident { $($(#[$fm:meta])* $f:ident: $t:ty),* $(,)? }) => {
        $(#[$doc])*
        #[derive(
            Clone, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize, $crate::form::Form, utoipa::ToSchema,
        )]
        #[serde(default)]
        pub struct $name {
            $($(#[$fm])* pub $f: $t,)*
            /// Bars on its use, ended ones too.
            #[serde(skip_serializing_if = "Vec::is_empty")]
            pub holds: Vec<$crate::common::Hold>,
            /// Holds from elsewhere that were ended for this thing.
            #[serde(skip_serializing_if = "Vec::is_empty")]
            pub lifts: Vec<$crate::common::Lift>,
            /// What does not add up.
            #[serde(skip_serializing_if = "Vec::is_empty")]
            pub flags: Vec<$crate::common::Flag>,
            /// The newest remarks.
            #[serde(skip_serializing_if = "Vec::is_empty")]
            pub notes: Vec<$crate::common::Note>,
        }

        impl $crate::common::Common for $name {
            fn holds(&self) -> &[$crate::common::Hold] { &self.holds }
            fn holds_mut(&mut self) -> &mut Vec<$crate::common::Hold> { &mut self.holds }
            fn lifts(&self) -> &[$crate::common::Lift] { &self.lifts }
            fn lifts_mut(&mut self) -> &mut Vec<$crate::common::Lift> { &mut self.lifts }
            fn flags(&self) -> &[$crate::common::Flag] { &self.flags }
            fn flags_mut(&mut self) -> &mut Vec<$crate::common::Flag> { &mut self.flags }
            fn notes_mut(&mut self) -> &mut Vec<$crate::common::Note> { &mut self.notes }
        }
    };
}
pub(crate) use state;
