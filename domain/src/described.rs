//! Structs that say of each field what it means, in which unit it is, and how far it may go.
//!
//! Forms, lists of calls and the command line read this, so that a meaning is written once, beside its field. Not
//! here: reading and answering (`reckon`), and the ranges themselves, which belong to the types and the formulas.

use serde::Serialize;

use crate::form::Form;
use crate::ids::SuperId;
use crate::limits::{Claim, Profile};
use crate::net_content::{ContentFailure, ContentRule};
use crate::science::moisture::Amber;
use crate::science::sampling::Shortfall;
use crate::science::span::Span;
use crate::units::{
    Brix, Count, Days, Diastase, FrameCount, Grams, GramsPerLitre, Gravities, Hmf, Hours, Humidity, Micrometres,
    Millilitres, Millimetres, Moisture, Pascals, Percent, Places, RefractiveIndex, SquareMillimetres, Temperature,
    TenthsGrams, Thousandths, Turns, Viscosity, WarmMinutes,
};

/// What may be written into a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Kind {
    /// A whole number.
    Whole {
        /// The least that is understood.
        from: i64,
        /// The greatest that is understood.
        to: i64,
    },
    /// A value with the ends between which it lies: three whole numbers `low`, `value` and `high`.
    Spread,
    /// True or false.
    Truth,
    /// Words.
    Text,
    /// One of a few words.
    Choice {
        /// The words.
        words: &'static [&'static str],
    },
    /// An object with fields of its own.
    Object {
        /// Its fields.
        fields: &'static [Field],
    },
    /// Any number of objects.
    List {
        /// The fields of each.
        fields: &'static [Field],
    },
    /// Any number of plain values.
    Values {
        /// What each of them is.
        of: &'static Self,
    },
}

/// One field of a described struct.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Field {
    /// Its name, as in JSON.
    pub name: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Its unit, or what stands in place of one.
    pub unit: &'static str,
    /// Whether it has to be there.
    pub required: bool,
    /// What may be written into it.
    #[cfg(not(target_arch = "wasm32"))]
    pub holds: Kind,
    /// How far the formula behind it is supported, where it is narrower than the kind.
    #[cfg(not(target_arch = "wasm32"))]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub span: Option<Span>,
    /// A value that can be, as JSON.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<&'static str>,
}

/// What can be a field of a described struct.
pub trait Holds {
    /// What may be written into it.
    const KIND: Kind;
    /// Whether it has to be there.
    const REQUIRED: bool = true;
}

/// A struct that describes its fields.
pub trait Described {
    /// Its fields, in the order in which they are declared.
    const FIELDS: &'static [Field];
}

/// A value with the ends between which the published figures put it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, serde::Deserialize, Form, utoipa::ToSchema)]
pub struct Spread {
    /// The lower end.
    pub low: i64,
    /// The value of the formula itself.
    pub value: i64,
    /// The upper end.
    pub high: i64,
}

impl<T: Holds> Holds for Option<T> {
    const KIND: Kind = T::KIND;
    const REQUIRED: bool = false;
}

impl Holds for bool {
    const KIND: Kind = Kind::Truth;
}

impl Holds for i64 {
    const KIND: Kind = Kind::Whole {
        from: Self::MIN,
        to: Self::MAX,
    };
}

impl Holds for u32 {
    const KIND: Kind = Kind::Whole {
        from: 0,
        to: Self::MAX as i64,
    };
}

impl Holds for Spread {
    const KIND: Kind = Kind::Spread;
}

impl Holds for String {
    const KIND: Kind = Kind::Text;
}

impl Holds for &'static str {
    const KIND: Kind = Kind::Text;
}

impl Holds for SuperId {
    const KIND: Kind = Kind::Text;
}

impl<T: Described> Holds for Vec<T> {
    const KIND: Kind = Kind::List { fields: T::FIELDS };
}

/// What enums that are declared elsewhere are written as, one word a variant.
macro_rules! words_hold {
    ($($name:ty: $($word:literal),*;)*) => {$(
        impl Holds for $name {
            const KIND: Kind = Kind::Choice { words: &[$($word),*] };
        }

        impl Holds for Vec<$name> {
            const KIND: Kind = Kind::Values { of: &<$name as Holds>::KIND };
        }
    )*};
}

words_hold! {
    Amber: "honey_temperature", "compensation_unknown", "temperature_missing", "extrapolated";
    ContentRule: "average_eu", "average_uk", "minimum";
    ContentFailure: "pack_below_t2", "too_many_below_t1", "mean_below_nominal", "pack_below_nominal";
    Profile: "eu", "uk_england", "canada", "usa";
    Claim: "general", "heather", "bakers", "bakers_heather";
}

impl Holds for Vec<Shortfall> {
    const KIND: Kind = Kind::Values { of: &Shortfall::KIND };
}

macro_rules! quantities_hold {
    ($($name:ident),*) => {$(
        impl Holds for $name {
            const KIND: Kind = Kind::Whole { from: Self::MIN.get(), to: Self::MAX.get() };
        }
    )*};
}

quantities_hold!(
    Brix,
    Count,
    Days,
    Diastase,
    FrameCount,
    Grams,
    GramsPerLitre,
    Gravities,
    Hmf,
    Hours,
    Humidity,
    Micrometres,
    Millilitres,
    Millimetres,
    Moisture,
    Pascals,
    Percent,
    Places,
    SquareMillimetres,
    RefractiveIndex,
    Temperature,
    TenthsGrams,
    Thousandths,
    Turns,
    Viscosity,
    WarmMinutes
);

/// Declares a struct that is read: `/// meaning`, then `name: Type, "unit", "example as JSON"`, and where a formula is
/// narrower than the type `, in SPAN`. What may be left out is an `Option`. Fields nobody knows are refused.
macro_rules! asked {
    (
        $(#[doc = $about:literal])+
        $name:ident {
            $($(#[doc = $doc:literal])+ $field:ident: $type:ty, $unit:literal, $example:literal $(, in $span:expr)?;)*
        }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Debug, PartialEq, Eq, serde::Deserialize, $crate::form::Form, utoipa::ToSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[doc = $doc])+ pub $field: $type,)*
        }

        impl $crate::described::Described for $name {
            const FIELDS: &'static [$crate::described::Field] = &[$($crate::described::Field {
                name: stringify!($field),
                meaning: concat!($($doc),+).trim_ascii(),
                unit: $unit,
                required: <$type as $crate::described::Holds>::REQUIRED,
                #[cfg(not(target_arch = "wasm32"))]
                holds: <$type as $crate::described::Holds>::KIND,
                #[cfg(not(target_arch = "wasm32"))]
                span: $crate::described::optional!($($span)?),
                example: Some($example),
            }),*];
        }
    };
}
pub(crate) use asked;

/// Declares a struct that is answered: `/// meaning`, then `name: Type, "unit"`.
macro_rules! answered {
    (
        $(#[doc = $about:literal])+
        $name:ident {
            $($(#[doc = $doc:literal])+ $field:ident: $type:ty, $unit:literal;)*
        }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, $crate::form::Form, utoipa::ToSchema)]
        pub struct $name {
            $($(#[doc = $doc])+ pub $field: $type,)*
        }

        impl $crate::described::Described for $name {
            const FIELDS: &'static [$crate::described::Field] = &[$($crate::described::Field {
                name: stringify!($field),
                meaning: concat!($($doc),+).trim_ascii(),
                unit: $unit,
                required: <$type as $crate::described::Holds>::REQUIRED,
                #[cfg(not(target_arch = "wasm32"))]
                holds: <$type as $crate::described::Holds>::KIND,
                #[cfg(not(target_arch = "wasm32"))]
                span: None,
                example: None,
            }),*];
        }
    };
}
pub(crate) use answered;

/// Declares words to choose from, each with its meaning.
macro_rules! words {
    (
        $(#[doc = $about:literal])+
        $name:ident { $($(#[doc = $doc:literal])+ $word:ident = $written:literal,)* }
    ) => {
        $(#[doc = $about])+
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
            $crate::form::Form, utoipa::ToSchema,
        )]
        pub enum $name {
            $($(#[doc = $doc])+ #[serde(rename = $written)] $word,)*
        }

        impl $crate::described::Holds for $name {
            const KIND: $crate::described::Kind = $crate::described::Kind::Choice { words: &[$($written),*] };
        }
    };
}
pub(crate) use words;

/// An expression or nothing.
macro_rules! optional {
    () => {
        None
    };
    ($value:expr) => {
        Some($value)
    };
}
pub(crate) use optional;
