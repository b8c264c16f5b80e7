//! What an entry is: the frame around every kind, and the list of all kinds.
//!
//! The data of a kind stands with the thing it is about (`honey_super.rs`, `lot.rs`, ...). What is absent here on
//! purpose: sequence numbers and hashes, which belong to the ledger, and the fold, which is in `fold.rs`.

use serde::Serialize;
use utoipa::ToSchema;

use crate::batch::{
    BatchStored, Bottled, ComplaintTold, GlassBroken, JarsReworked, JarsTakenOut, Labelled, StockCounted,
    WeightsChecked,
};
use crate::books::{CostBooked, IncomeBooked, PriceSet, WorkBooked};
use crate::clearing::ClearingFitted;
use crate::colony::{ColonyDescribed, ColonyEnded, ColonyMoved, ColonyRegistered, ColonyRequeened};
use crate::common::{HoldLifted, HoldSet, NoteWritten};
use crate::content::HoneyCounted;
use crate::delivery::{
    CustomerDescribed, CustomerRegistered, Delivered, GoodsOrdered, OrderMarked, OrderPicked, Returned,
};
use crate::disease::{
    DiseaseCleared, DiseaseDiagnosed, DiseaseSuspected, StandstillLicensed, StandstillLifted, StandstillOrdered,
};
use crate::extraction::{
    CappingsWeighed, FramesSetAside, HoneyStrained, RunClosed, RunDescribed, RunDrained, RunOpened, RunReopened,
    SampleTaken, SuperUncapped, WetWeighed,
};
use crate::feed::{FeedPutOn, FeedTakenOff};
use crate::fill::{ContainerDescribed, ContainerFilled, ContainerRegistered, ContainerWashed, FillSettled};
use crate::form::{self, Desk, Form, Node};
use crate::hive::{HiveDescribed, HiveMoved, HiveRegistered};
use crate::honey_super::{
    SuperDescribed, SuperLeftInYard, SuperLoaded, SuperMoved, SuperPlaced, SuperPulled, SuperReceived, SuperRegistered,
    SuperScrapped, SuperStored, SuperWeighed,
};
use crate::inspection::HiveInspected;
use crate::left::{HoneyLeft, YieldLeftOut};
use crate::lot::{Blended, HoneyDrawn, HoneyEnded, HoneyWasted, LotDescribed, LotReleased, LotSampled};
use crate::medicine::{MedicineBought, MedicineDescribed, MedicineDisposed, MedicineRegistered};
use crate::meter::{MeterChecked, MeterDescribed, MeterRegistered, ScaleChecked, ScaleDescribed, ScaleRegistered};
use crate::moisture::{HoneyStirred, MoistureRead};
use crate::settings::{HoldDaysSet, HouseLimitSet, ProfileChosen, ProfileValueChanged, RegionChosen, SeasonPlanned};
use crate::subject::Subject;
use crate::taint::{BoxCleaned, TaintNoted};
use crate::treatment::{TreatmentGiven, TreatmentPutIn, TreatmentSeen, TreatmentTakenOut};
use crate::warm_room::{DryingStarted, DryingStopped, RoomDescribed, RoomRead, RoomRegistered};
use crate::yard::{ColoniesCounted, FlowEnded, FlowStarted, YardDescribed, YardRegistered};

mod correction;
mod recorded;

use correction::{AMENDED, VOIDED};
pub use correction::{Amended, Voided};
pub use recorded::{Mark, OrderKey, Recorded, local_date};

/// The data of one kind of entry.
pub trait EntryData: Form {
    /// The kind as stored and sent.
    const KIND: &'static str;
    /// The version that is written today; older ones are still read.
    const VERSION: u16;
    /// The things whose state the entry changes, repeats possible.
    fn touches(&self) -> Vec<Subject>;
}

/// A wish whose subject stands in the path of the call that makes it.
pub trait Wish {
    /// The identity in the path.
    type About;
    /// The entry it becomes.
    type Data: EntryData + Into<Entry>;
    /// The entry, once the wish is granted.
    fn about(self, subject: Self::About) -> Self::Data;
}

/// Declares the data of a kind and, with `wish`, the body of the office call that makes it.
macro_rules! entry {
    (
        $(#[$doc:meta])*
        $name:ident = $kind:literal v $version:literal touches($($touch:ident),*)
        wish $wish:ident for $subject:ident: $subject_type:ty
        { $($(#[$fm:meta])* $f:ident: $t:ty),* $(,)? }
        optional { $($(#[$om:meta])* $o:ident: $ot:ty),* $(,)? }
    ) => {
        $crate::entry::entry! {
            $(#[$doc])*
            $name = $kind v $version touches($($touch),*)
            { #[doc = "The thing it is about."] $subject: $subject_type, $($(#[$fm])* $f: $t),* }
            optional { $($(#[$om])* $o: $ot),* }
        }

        #[doc = concat!("Asks for `", $kind, "`.")]
        #[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $wish {
            $($(#[$fm])* pub $f: $t,)*
            $($(#[$om])* #[serde(default, skip_serializing_if = "Option::is_none")] pub $o: Option<$ot>,)*
        }

        impl $crate::entry::Wish for $wish {
            type About = $subject_type;
            type Data = $name;
            fn about(self, $subject: $subject_type) -> $name {
                $name { $subject, $($f: self.$f,)* $($o: self.$o,)* }
            }
        }
    };
    (
        $(#[$doc:meta])*
        $name:ident = $kind:literal v $version:literal touches($($touch:ident),*)
        { $($(#[$fm:meta])* $f:ident: $t:ty),* $(,)? }
        optional { $($(#[$om:meta])* $o:ident: $ot:ty),* $(,)? }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, $crate::form::Form, utoipa::ToSchema)]
        pub struct $name {
            $($(#[$fm])* pub $f: $t,)*
            $($(#[$om])* #[serde(default, skip_serializing_if = "Option::is_none")] pub $o: Option<$ot>,)*
        }

        impl $crate::entry::EntryData for $name {
            const KIND: &'static str = $kind;
            const VERSION: u16 = $version;
            fn touches(&self) -> Vec<$crate::subject::Subject> {
                #[allow(unused_mut)]
                let mut named = Vec::with_capacity(2);
                $($crate::subject::Touch::touch(&self.$touch, &mut named);)*
                named
            }
        }
    };
}
pub(crate) use entry;

/// Who may send a kind from a phone; anybody above may too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WrittenBy {
    /// Everybody who works in yard and house.
    Field,
    /// Those who answer for releases, buyers and limits.
    Office,
}

/// What is known of a kind without an entry at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KindSpec {
    /// The kind as stored and sent.
    pub kind: &'static str,
    /// The oldest version that is still read.
    pub oldest: u16,
    /// The version that is written.
    pub newest: u16,
    /// Who may send it.
    pub written_by: WrittenBy,
}

/// Lists every kind once: the enum, its names, its reading and its subjects follow from this list.
macro_rules! kinds {
    ($($by:ident: $($name:ident),* ;)*) => {
        /// What happened, of whatever kind.
        #[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
        #[serde(untagged)]
        pub enum Entry {
            $($(#[doc = concat!("See [`", stringify!($name), "`].")] $name($name),)*)*
            /// A correction of an earlier entry.
            Amended(Amended),
            /// A withdrawal of an earlier entry.
            Voided(Voided),
        }

        $($(impl From<$name> for Entry {
            fn from(data: $name) -> Self { Self::$name(data) }
        })*)*

        /// Every kind, with its versions and its writers.
        pub const KINDS: &[KindSpec] = &[
            $($(KindSpec {
                kind: <$name as EntryData>::KIND,
                oldest: 1,
                newest: <$name as EntryData>::VERSION,
                written_by: WrittenBy::$by,
            },)*)*
            KindSpec { kind: AMENDED, oldest: 1, newest: 1, written_by: WrittenBy::Field },
            KindSpec { kind: VOIDED, oldest: 1, newest: 1, written_by: WrittenBy::Field },
        ];

        impl Entry {
            /// The kind as stored and sent.
            #[must_use]
            pub fn kind(&self) -> &'static str {
                match self {
                    $($(Self::$name(_) => <$name as EntryData>::KIND,)*)*
                    Self::Amended(_) => AMENDED,
                    Self::Voided(_) => VOIDED,
                }
            }

            /// The things whose state it changes, each once. A correction changes what its target changed, which
            /// only the ledger knows; of itself it names what its new content touches.
            #[must_use]
            pub fn touches(&self) -> Vec<Subject> {
                let mut named = match self {
                    $($(Self::$name(data) => data.touches(),)*)*
                    Self::Amended(amended) => amended.instead.touches(),
                    Self::Voided(_) => Vec::new(),
                };
                named.sort_unstable();
                named.dedup();
                named
            }

            /// The thing it is about first of all: what a fill filled, what a draw made, where a delivery went.
            #[must_use]
            pub fn about(&self) -> Option<Subject> {
                match self {
                    $($(Self::$name(data) => data.touches().first().copied(),)*)*
                    Self::Amended(amended) => amended.instead.about(),
                    Self::Voided(_) => None,
                }
            }

            /// Reads the data of a kind as sent, whatever version that is still understood.
            ///
            /// # Errors
            /// [`ReadRefused::UnknownKind`] and [`ReadRefused::UnknownVersion`] may be understood by a newer
            /// program; [`ReadRefused::BadField`] never.
            pub fn read(kind: &str, version: u16, data: &str) -> Result<Self, ReadRefused> {
                let blank = Self::to_read(kind, version)?;
                form::filled(blank, &Node::read(data)?)
            }

            /// The same where the data is taken apart already.
            ///
            /// # Errors
            /// As [`Entry::read`].
            pub fn told(kind: &str, version: u16, data: &Node<'_>) -> Result<Self, ReadRefused> {
                form::filled(Self::to_read(kind, version)?, data)
            }

            /// An entry of some kind that is to be read.
            fn to_read(kind: &str, version: u16) -> Result<Self, ReadRefused> {
                let spec = spec(kind).ok_or_else(|| ReadRefused::UnknownKind { kind: kind.to_owned() })?;
                if version < spec.oldest || version > spec.newest {
                    return Err(ReadRefused::UnknownVersion { kind: spec.kind, version, newest: spec.newest });
                }
                Ok(match spec.kind {
                    $($(<$name as EntryData>::KIND => Self::$name(Form::blank()),)*)*
                    VOIDED => Self::Voided(Form::blank()),
                    _ => Self::Amended(Form::blank()),
                })
            }
        }

        impl Form for Entry {
            fn blank() -> Self {
                Self::Voided(Form::blank())
            }

            fn pass(&mut self, desk: &mut Desk<'_>) {
                match self {
                    $($(Self::$name(data) => data.pass(desk),)*)*
                    Self::Amended(amended) => amended.pass(desk),
                    Self::Voided(voided) => voided.pass(desk),
                }
            }
        }
    };
}

kinds! {
    Field: BatchStored, Blended, Bottled, BoxCleaned, CappingsWeighed, ClearingFitted, ColoniesCounted, ColonyDescribed, ColonyEnded, ColonyMoved,
        ColonyRegistered, ColonyRequeened, ComplaintTold, ContainerDescribed, ContainerFilled, ContainerRegistered, ContainerWashed,
        DiseaseDiagnosed, DiseaseSuspected, DryingStarted, DryingStopped, FeedPutOn, FeedTakenOff, FillSettled, FlowEnded, FlowStarted, FramesSetAside, GlassBroken, HiveDescribed, HiveInspected, HiveMoved, HiveRegistered,
        HoldSet, HoneyCounted, HoneyDrawn, HoneyLeft, HoneyStirred, HoneyStrained, HoneyWasted, JarsReworked, JarsTakenOut, Labelled, LotDescribed, LotSampled, MedicineBought, MedicineDisposed,
        MeterChecked, MeterDescribed, MeterRegistered, MoistureRead, NoteWritten, RoomDescribed, RoomRead,
        RoomRegistered, RunClosed, RunDescribed, RunDrained, RunOpened, RunReopened, SampleTaken, ScaleChecked, ScaleDescribed, ScaleRegistered,
        StandstillOrdered, StockCounted, SuperDescribed, SuperLeftInYard, SuperLoaded, SuperMoved, SuperPlaced, SuperPulled, SuperReceived,
        SuperRegistered, SuperScrapped, SuperStored, SuperUncapped, SuperWeighed, TaintNoted, TreatmentGiven,
        TreatmentPutIn, TreatmentSeen, TreatmentTakenOut, WeightsChecked, WetWeighed, WorkBooked,
        YardDescribed, YardRegistered;
    Office: CostBooked, CustomerDescribed, CustomerRegistered, Delivered, DiseaseCleared, GoodsOrdered, HoldDaysSet, HoldLifted, HoneyEnded, HouseLimitSet,
        IncomeBooked, LotReleased, MedicineDescribed, MedicineRegistered, OrderMarked, OrderPicked, PriceSet, ProfileChosen, ProfileValueChanged, RegionChosen,
        Returned, SeasonPlanned, StandstillLicensed, StandstillLifted, YieldLeftOut;
}

/// Who may correct or withdraw an entry. A hold ends only by a named release (CF-17), so what set it is the office's to
/// take back, whoever set it.
#[must_use]
pub fn corrected_by(entry: &Entry) -> WrittenBy {
    match entry {
        Entry::HiveInspected(looked) if looked.suspicion.is_none() => WrittenBy::Field,
        Entry::HoneyStrained(strained) if strained.whole_after != Some(false) => WrittenBy::Field,
        entry => kind_corrected_by(entry.kind()),
    }
}

/// The same where only the kind is known: what may have set a hold is the office's.
#[must_use]
pub fn kind_corrected_by(kind: &str) -> WrittenBy {
    match kind {
        "hold_set" | "treatment_put_in" | "treatment_given" | "treatment_seen" | "feed_put_on"
        | "disease_suspected" | "disease_diagnosed" | "standstill_ordered" | "taint_noted" | "glass_broken"
        | "hive_inspected" | "honey_strained" => WrittenBy::Office,
        kind => spec(kind).map_or(WrittenBy::Field, |spec| spec.written_by),
    }
}

/// What is known of a kind; nothing if a newer program must have made it.
#[must_use]
pub fn spec(kind: &str) -> Option<&'static KindSpec> {
    KINDS.iter().find(|spec| spec.kind == kind)
}

/// Why the data of an entry could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReadRefused {
    /// Nobody here knows the kind.
    #[error("the kind {kind:?} is not known here")]
    UnknownKind {
        /// The kind as sent.
        kind: String,
    },
    /// The kind is known, this version of it is not.
    #[error("version {version} of {kind} is not known here, the newest is {newest}")]
    UnknownVersion {
        /// The kind.
        kind: &'static str,
        /// The version as sent.
        version: u16,
        /// The newest that is read here.
        newest: u16,
    },
    /// The data says something that cannot be.
    #[error("{detail}")]
    BadField {
        /// Where, as a JSON pointer below the entry's data.
        pointer: String,
        /// What is wrong there.
        detail: String,
    },
}
