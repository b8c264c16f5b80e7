//! The state of anything, whatever kind of thing it is: what the ledger folds, keeps and sends.

use crate::batch::Batch;
use crate::books::Books;
use crate::colony::Colony;
use crate::common::{Common, Flag, Hold, Lift};
use crate::delivery::{Customer, Delivery};
use crate::entry::{Mark, ReadRefused, Recorded};
use crate::extraction::Run;
use crate::fill::{Container, Fill};
use crate::fold::{Aggregate, Folded, Memo, fold};
use crate::form::{self, Desk, Form, Node};
use crate::hive::Hive;
use crate::honey_super::Super;
use crate::ids::EntryId;
use crate::lot::Lot;
use crate::medicine::Medicine;
use crate::meter::{Meter, Scale};
use crate::settings::Settings;
use crate::subject::{Subject, SubjectKind};
use crate::warm_room::Room;
use crate::yard::Yard;

/// Raised whenever a fold gives another state for the same entries: kept states of another version are folded anew.
pub const FOLD_VERSION: i32 = 7;

macro_rules! states {
    ($($kind:ident $as_kind:ident),* $(,)?) => {
        /// A folded state with the fold's memory.
        #[derive(Clone, Debug, PartialEq, Eq)]
        pub enum State {
            $(#[doc = concat!("A `", stringify!($kind), "`.")] $kind(Box<Folded<$kind>>),)*
        }

        impl State {
            /// The state of a thing of which nothing was told.
            #[must_use]
            pub fn empty(kind: SubjectKind) -> Self {
                match kind { $(SubjectKind::$kind => Self::$kind(Box::default()),)* }
            }

            /// Folds all entries about a thing, in any order and with any repeats.
            #[must_use]
            pub fn fold(about: Subject, entries: &[Recorded]) -> Self {
                match about.kind { $(SubjectKind::$kind => Self::$kind(Box::new(fold::<$kind>(about, entries))),)* }
            }

            /// Goes on with new entries; false where all have to be folded anew. Then nothing has changed, except in a
            /// state whose older parts are away, which is to be thrown away.
            #[must_use]
            pub fn go_on(&mut self, about: Subject, new: &[Recorded]) -> bool {
                self.go_on_with(about, new.iter().collect())
            }

            /// The same where the entries are not side by side.
            pub(crate) fn go_on_with(&mut self, about: Subject, new: Vec<&Recorded>) -> bool {
                match self { $(Self::$kind(folded) => folded.go_on(about, new),)* }
            }

            /// Reads a kept state.
            ///
            /// # Errors
            /// When it was kept by a program that wrote it otherwise.
            pub fn read(kind: SubjectKind, state: &str, memo: &str) -> Result<Self, serde_json::Error> {
                let memo: Memo = serde_json::from_str(memo)?;
                Ok(match kind {
                    $(SubjectKind::$kind => Self::$kind(Box::new(Folded { state: serde_json::from_str(state)?, memo })),)*
                })
            }

            /// From now on older parts of it are away: it serves to go on from and to nothing else.
            pub fn begin_away(&mut self) {
                match self { $(Self::$kind(folded) => folded.begin_away(),)* }
            }

            /// Takes out what need not be kept with it to go on: a part of the state and one of the memory, to be
            /// [joined](crate::grown::joined) by whoever answers questions from it.
            pub fn put_away(&mut self) -> Option<(String, String)> {
                match self { $(Self::$kind(folded) => folded.put_away(),)* }
            }

            /// Reads a state as it was sent, without the fold's memory.
            ///
            /// # Errors
            /// Where it is told otherwise than here.
            pub fn told(kind: SubjectKind, state: &Node<'_>) -> Result<Self, ReadRefused> {
                form::filled(Self::empty(kind), state)
            }

            /// The same state once more, by its form: a phone has to fetch the code that would copy it otherwise.
            pub(crate) fn again(&mut self) -> Option<Self> {
                let written = form::written(self);
                Self::told(self.kind(), &Node::read(&written).ok()?).ok()
            }

            /// The state as kept and sent.
            #[must_use]
            pub fn state_json(&self) -> String {
                match self { $(Self::$kind(folded) => serde_json::to_string(&folded.state).unwrap_or_default(),)* }
            }

            /// The fold's memory as kept.
            #[must_use]
            pub fn memo_json(&self) -> String {
                match self { $(Self::$kind(folded) => serde_json::to_string(&folded.memo).unwrap_or_default(),)* }
            }

            /// What kind of thing it is.
            #[must_use]
            pub fn kind(&self) -> SubjectKind {
                match self { $(Self::$kind(_) => SubjectKind::$kind,)* }
            }

            /// What people call it, if anybody named it.
            #[must_use]
            pub fn label(&self) -> Option<String> {
                match self { $(Self::$kind(folded) => folded.state.label(),)* }
            }

            /// Its state in one word.
            #[must_use]
            pub fn status(&self) -> &'static str {
                match self { $(Self::$kind(folded) => folded.state.status(),)* }
            }

            /// The number in the ledger of one of its entries, where the fold remembers it.
            #[must_use]
            pub fn arrived(&self, entry: EntryId) -> Option<i64> {
                match self { $(Self::$kind(folded) => folded.memo.arrived(entry),)* }
            }

            /// Where one of its entries stands in what devices know, where the fold remembers it; a phone has only the
            /// rows and remembers nothing.
            #[must_use]
            pub fn mark(&self, entry: EntryId) -> Option<Mark> {
                match self { $(Self::$kind(folded) => folded.memo.mark(entry),)* }
            }

            /// What does not add up about it.
            #[must_use]
            pub fn flags(&self) -> &[Flag] {
                match self { $(Self::$kind(folded) => folded.state.flags(),)* }
            }

            /// The bars on its use, ended ones too.
            #[must_use]
            pub fn holds(&self) -> &[Hold] {
                match self { $(Self::$kind(folded) => folded.state.holds(),)* }
            }

            /// The holds from elsewhere that ended for it.
            #[must_use]
            pub fn lifts(&self) -> &[Lift] {
                match self { $(Self::$kind(folded) => folded.state.lifts(),)* }
            }

            $(
                #[doc = concat!("The state, if it is that of a `", stringify!($kind), "`.")]
                #[must_use]
                pub fn $as_kind(&self) -> Option<&$kind> {
                    match self { Self::$kind(folded) => Some(&folded.state), _ => None }
                }
            )*
        }

        impl Form for State {
            fn blank() -> Self {
                Self::empty(SubjectKind::blank())
            }

            fn pass(&mut self, desk: &mut Desk<'_>) {
                match self { $(Self::$kind(folded) => folded.state.pass(desk),)* }
            }
        }
    };
}

states! {
    Batch as_batch, Books as_books, Colony as_colony, Container as_container, Customer as_customer, Delivery as_delivery, Fill as_fill,
    Hive as_hive, Lot as_lot, Medicine as_medicine, Meter as_meter, Room as_room, Run as_run, Scale as_scale, Settings as_settings,
    Super as_super, Yard as_yard,
}
