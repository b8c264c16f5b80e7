//! Every computation by name: what it asks, what it answers, where its figures come from, and how far they hold.
//!
//! The same list serves the service, the phone, the command line and the contract. A computation is registered by
//! one `computation!` block in a list of a room, and the room's list by one line in `ROOMS`. Not here: a formula.
//!
//! Values come in and go out as JSON with whole numbers, the unit last in the name. A field nobody knows, a missing
//! one and one that cannot be are refused with a pointer and with what to write instead.

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::described::{Described, Field, Kind};
use crate::entry::ReadRefused;
use crate::form::{self, Form, Node};
use crate::science::sources::Source;

mod air;
mod blending;
mod honey;
mod house;
mod keeping;
mod packs;
mod plans;
mod readings;
mod refusals;
mod supers;

/// The lists of the rooms. One line a room.
const ROOMS: &[&[Computation]] = &[
    readings::ALL,
    honey::ALL,
    keeping::ALL,
    blending::ALL,
    air::ALL,
    house::ALL,
    packs::ALL,
    plans::ALL,
    supers::ALL,
];

/// One computation.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Computation {
    /// Its name, in `snake_case`.
    pub name: &'static str,
    /// What it answers, in one sentence.
    #[cfg(not(target_arch = "wasm32"))]
    pub does: &'static str,
    /// What it asks.
    pub inputs: &'static [Field],
    /// What it answers.
    #[cfg(not(target_arch = "wasm32"))]
    pub outputs: &'static [Field],
    /// Where its figures come from.
    #[cfg(not(target_arch = "wasm32"))]
    pub sources: &'static [Source],
    /// The letters of the rules behind it.
    #[cfg(not(target_arch = "wasm32"))]
    pub rules: &'static [&'static str],
    /// How far the answer holds.
    #[cfg(not(target_arch = "wasm32"))]
    pub holds: &'static str,
    /// What to heed while doing what the answer is for, where it can hurt somebody.
    #[cfg(not(target_arch = "wasm32"))]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<&'static str>,
    #[serde(skip)]
    run: fn(&Node<'_>) -> Result<String, Refusal>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Form, thiserror::Error)]
#[error("{sentence}")]
pub struct Refusal {
    /// What kind of refusal it is, in `snake_case`.
    pub code: &'static str,
    /// Which input is meant, as a JSON pointer; empty for the input as a whole.
    pub pointer: String,
    /// What is wrong and what to do.
    pub sentence: String,
}

impl Refusal {
    /// A refusal of one input.
    #[must_use]
    pub fn at(code: &'static str, field: &str, sentence: impl Into<String>) -> Self {
        Self {
            code,
            pointer: format!("/{field}"),
            sentence: sentence.into(),
        }
    }

    /// A refusal of the input as a whole.
    #[must_use]
    pub fn whole(code: &'static str, sentence: impl Into<String>) -> Self {
        Self {
            code,
            pointer: String::new(),
            sentence: sentence.into(),
        }
    }
}

impl Computation {
    /// Answers.
    ///
    /// # Errors
    /// [`Refusal`], where the input cannot be read or has no answer.
    pub fn reckon(&self, input: &Value) -> Result<Value, Refusal> {
        let input = input.to_string();
        let unreadable = |fault: String| Refusal::whole("unreadable_input", fault);
        let answer = self.reckon_from(&Node::read(&input).map_err(|fault| unreadable(fault.to_string()))?)?;
        serde_json::from_str(&answer).map_err(|fault| unreadable(fault.to_string()))
    }

    /// Answers in JSON.
    ///
    /// # Errors
    /// [`Refusal`], where the input cannot be read or has no answer.
    pub fn reckon_from(&self, input: &Node<'_>) -> Result<String, Refusal> {
        (self.run)(input)
    }

    /// Reads inputs as somebody types them, `name=value` each: whole numbers, `true` and `false`, words, and JSON for
    /// lists and objects. Whether a value can be is left to [`Computation::reckon`].
    ///
    /// # Errors
    /// [`Refusal`], where one has no name or no value, is named twice or has a name nobody knows.
    #[cfg(not(target_arch = "wasm32"))]
    pub fn input_of<S: AsRef<str>>(&self, pairs: impl IntoIterator<Item = S>) -> Result<Value, Refusal> {
        let mut input = Map::new();
        for pair in pairs {
            let pair = pair.as_ref();
            let Some((name, text)) = pair.split_once('=') else {
                let sentence = format!("{pair:?} is not of the form name=value; {}", self.asks());
                return Err(Refusal::whole("unreadable_input", sentence));
            };
            let (name, text) = (name.trim(), text.trim());
            let field = self.field(name)?;
            if input.insert(name.to_owned(), typed(field, text)?).is_some() {
                return Err(Refusal::at(
                    "unreadable_input",
                    name,
                    format!("{name} is given twice; give it once"),
                ));
            }
        }
        Ok(Value::Object(input))
    }

    fn field(&self, name: &str) -> Result<&'static Field, Refusal> {
        let fields = self.inputs;
        fields.iter().find(|field| field.name == name).ok_or_else(|| {
            Refusal::at(
                "unknown_input",
                name,
                format!("{name} is not asked here; {}", self.asks()),
            )
        })
    }

    fn asks(&self) -> String {
        asks(self.inputs)
    }
}

/// Every computation, room by room.
pub fn all() -> impl Iterator<Item = &'static Computation> {
    ROOMS.iter().flat_map(|room| room.iter())
}

/// The computation of this name.
///
/// # Errors
/// [`Refusal`], with the names there are.
pub fn named(name: &str) -> Result<&'static Computation, Refusal> {
    all().find(|computation| computation.name == name).ok_or_else(|| {
        let names: Vec<&str> = all().map(|computation| computation.name).collect();
        let sentence = format!("no computation is called {name:?}; there are {}", names.join(", "));
        Refusal::whole("unknown_computation", sentence)
    })
}

/// Everything that is known of the computations, for contracts and for reading.
#[must_use]
pub fn describe() -> Value {
    json!({ "computations": all().map(Computation::describe).collect::<Vec<_>>() })
}

impl Computation {
    /// Everything that is known of one computation.
    #[must_use]
    pub fn describe(&self) -> Value {
        // A description is made of literals alone, which JSON can always hold.
        serde_json::to_value(self).unwrap_or_default()
    }
}

/// Reads, works out, writes; what the blocks are made of.
pub(crate) fn answer<A, R, E>(input: &Node<'_>, work: fn(A) -> Result<R, E>) -> Result<String, Refusal>
where
    A: Described + Form,
    R: Form,
    E: Into<Refusal>,
{
    let mut asked = A::blank();
    read(&mut asked, A::FIELDS, input)?;
    let mut answered = work(asked).map_err(Into::into)?;
    Ok(form::written(&mut answered))
}

/// Reads an input; faults of the outermost fields are told with what the field means.
fn read(asked: &mut dyn Form, fields: &[Field], input: &Node<'_>) -> Result<(), Refusal> {
    let Node::Object(given) = input else {
        let sentence = format!("the input has to be an object; {}", asks(fields));
        return Err(Refusal::whole("unreadable_input", sentence));
    };
    let is_known = |name: &str| fields.iter().any(|field| field.name == name);
    if let Some((unknown, _)) = given.iter().find(|(name, _)| !is_known(name)) {
        let sentence = format!("{unknown} is not asked here; {}", asks(fields));
        return Err(Refusal::at("unknown_input", &escaped(unknown), sentence));
    }
    let is_told = |name: &str| given.iter().any(|(told, value)| told == name && *value != Node::Null);
    if let Some(missing) = fields.iter().find(|field| field.required && !is_told(field.name)) {
        let sentence = format!("{} is missing; {}", missing.name, give(missing));
        return Err(Refusal::at("missing_input", missing.name, sentence));
    }
    form::fill(asked, input).map_err(|wrong| {
        let (pointer, fault) = match wrong {
            ReadRefused::BadField { pointer, detail } => (pointer, detail),
            other => (String::new(), other.to_string()),
        };
        let top = pointer.split('/').nth(1).unwrap_or_default();
        let advice = fields
            .iter()
            .find(|field| field.name == top)
            .map_or_else(|| asks(fields), give);
        Refusal {
            code: "unreadable_input",
            sentence: format!("{fault}; {advice}"),
            pointer,
        }
    })
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// What is asked, in a sentence.
fn asks(fields: &[Field]) -> String {
    let names = |required: bool| {
        let names: Vec<&str> = fields
            .iter()
            .filter(|field| field.required == required)
            .map(|field| field.name)
            .collect();
        names.join(", ")
    };
    match (names(true), names(false)) {
        (must, may) if may.is_empty() => format!("give {must}"),
        (must, may) if must.is_empty() => format!("you may give {may}"),
        (must, may) => format!("give {must}, and if you like {may}"),
    }
}

/// How to write a field, in a sentence.
fn give(field: &Field) -> String {
    let example = field.example.unwrap_or("null");
    format!("give it in {}, for example {example} ({})", field.unit, field.meaning)
}

/// A value as typed, by what the field holds.
#[cfg(not(target_arch = "wasm32"))]
fn typed(field: &Field, text: &str) -> Result<Value, Refusal> {
    let wrong = |fault: String| Refusal::at("unreadable_input", field.name, format!("{fault}; {}", give(field)));
    match field.holds {
        Kind::Text | Kind::Choice { .. } => Ok(Value::from(text)),
        Kind::Whole { .. } => text
            .parse::<i64>()
            .map(Value::from)
            .map_err(|_| wrong(format!("{text:?} is not a whole number"))),
        Kind::Truth => text
            .parse::<bool>()
            .map(Value::from)
            .map_err(|_| wrong(format!("{text:?} is neither true nor false"))),
        Kind::Spread | Kind::Object { .. } | Kind::List { .. } | Kind::Values { .. } => {
            serde_json::from_str(text).map_err(|fault| wrong(format!("{text:?} is not JSON: {fault}")))
        }
    }
}

/// Registers a computation: `"name": function(Asked) -> Answered, does "sentence", from [sources], rules ["MO-5"],
/// holds "how far"`, and where it can hurt somebody `, caution "sentence"`.
macro_rules! computation {
    (
        $name:literal: $work:path as ($asked:ty) -> $answered:ty,
        does $does:literal,
        from [$($source:expr),* $(,)?],
        rules [$($rule:literal),* $(,)?],
        holds $holds:literal
        $(, caution $caution:expr)? $(,)?
    ) => {
        $crate::reckon::Computation {
            name: $name,
            #[cfg(not(target_arch = "wasm32"))]
            does: $does,
            inputs: <$asked as $crate::described::Described>::FIELDS,
            #[cfg(not(target_arch = "wasm32"))]
            outputs: <$answered as $crate::described::Described>::FIELDS,
            #[cfg(not(target_arch = "wasm32"))]
            sources: &[$($source),*],
            #[cfg(not(target_arch = "wasm32"))]
            rules: &[$($rule),*],
            #[cfg(not(target_arch = "wasm32"))]
            holds: $holds,
            #[cfg(not(target_arch = "wasm32"))]
            caution: $crate::described::optional!($($caution)?),
            run: |input| $crate::reckon::answer::<$asked, $answered, _>(input, $work),
        }
    };
}
pub(crate) use computation;
