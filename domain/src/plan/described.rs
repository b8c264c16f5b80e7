//! Structs of planners that are read, written, shown in the contract and described to the list of computations, all
//! from one declaration.

use crate::described::{Described, Field, Holds, Kind};
use crate::plan::{Figure, Reason};
use crate::subject::Subject;
use crate::text::Name;
use crate::units::{HundredthsGrams, Minutes, PerMille, Pfund};

/// Declares such a struct: `/// meaning`, `name: Type, "unit"`, and for what is asked `, "example as JSON"`. What may be
/// left out is an `Option` or bears `#[serde(default)]`. Fields nobody knows are refused.
macro_rules! planned {
    (
        $(#[doc = $about:literal])+
        $name:ident {
            $(
                $(#[doc = $doc:literal])+
                $(#[serde($($serde:tt)+)])?
                $field:ident: $type:ty, $unit:literal $(, $example:literal)?;
            )*
        }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, $crate::form::Form, utoipa::ToSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $(
                $(#[doc = $doc])+
                $(#[serde($($serde)+)])?
                pub $field: $type,
            )*
        }

        impl $crate::described::Described for $name {
            const FIELDS: &'static [$crate::described::Field] = &[$($crate::described::Field {
                name: stringify!($field),
                meaning: concat!($($doc),+).trim_ascii(),
                unit: $unit,
                required: <$type as $crate::described::Holds>::REQUIRED
                    && $crate::plan::described::planned!(@always $($($serde)+)?),
                #[cfg(not(target_arch = "wasm32"))]
                holds: <$type as $crate::described::Holds>::KIND,
                #[cfg(not(target_arch = "wasm32"))]
                span: None,
                example: $crate::described::optional!($($example)?),
            }),*];
        }

        impl $crate::described::Holds for $name {
            const KIND: $crate::described::Kind = $crate::described::Kind::Object {
                fields: <Self as $crate::described::Described>::FIELDS,
            };
        }
    };
    (@always) => { true };
    (@always $($serde:tt)+) => { false };
}
pub(crate) use planned;

/// Says which words an enum of a planner may be.
macro_rules! chosen_from {
    ($($name:ty: [$($word:literal),+ $(,)?]),+ $(,)?) => {$(
        impl $crate::described::Holds for $name {
            const KIND: $crate::described::Kind = $crate::described::Kind::Choice { words: &[$($word),+] };
        }
    )+};
}
pub(crate) use chosen_from;

const fn field(name: &'static str, meaning: &'static str, unit: &'static str, holds: Kind) -> Field {
    Field {
        name,
        meaning,
        unit,
        required: true,
        #[cfg(not(target_arch = "wasm32"))]
        holds,
        #[cfg(not(target_arch = "wasm32"))]
        span: None,
        example: None,
    }
}

impl Holds for Name {
    const KIND: Kind = Kind::Text;
}

impl Holds for Vec<Name> {
    const KIND: Kind = Kind::Values { of: &Kind::Text };
}

impl Holds for Vec<i64> {
    const KIND: Kind = Kind::Values { of: &i64::KIND };
}

macro_rules! quantities_hold {
    ($($name:ident),*) => {$(
        impl Holds for $name {
            const KIND: Kind = Kind::Whole { from: Self::MIN.get(), to: Self::MAX.get() };
        }
    )*};
}

quantities_hold!(HundredthsGrams, Minutes, PerMille, Pfund);

impl Holds for Subject {
    const KIND: Kind = Kind::Object {
        fields: &[
            field("kind", "What kind of thing it is.", "a word", Kind::Text),
            field("id", "Which one.", "a UUID", Kind::Text),
        ],
    };
}

impl Described for Figure {
    const FIELDS: &'static [Field] = &[
        field("name", "What it is, the unit last.", "words", Kind::Text),
        field("value", "How much.", "as its name says", i64::KIND),
    ];
}

impl Holds for Reason {
    const KIND: Kind = Kind::Object { fields: Self::FIELDS };
}

impl Described for Reason {
    const FIELDS: &'static [Field] = &[
        field("code", "Its slug.", "a word", Kind::Text),
        field("rule", "The rule of the trade behind it.", "letters", Kind::Text),
        field("sentence", "What, in a sentence.", "words", Kind::Text),
        Field {
            required: false,
            ..field(
                "figures",
                "The figures it rests on.",
                "figures",
                Kind::List { fields: Figure::FIELDS },
            )
        },
    ];
}

impl Holds for chrono::NaiveDate {
    const KIND: Kind = Kind::Text;
}

impl Holds for Vec<String> {
    const KIND: Kind = Kind::Values { of: &Kind::Text };
}

chosen_from!(crate::extraction::Spin: ["tangential", "radial"]);
