//! Reading the data of an entry field by field: a phone fetches one small reader a type of field, not one a kind.

use std::borrow::Cow;
use std::fmt;

use serde::de::{Deserialize, MapAccess, Visitor};
use serde_json::value::RawValue;

use super::{ReadRefused, pointer};

/// The fields of an object, not yet read. What nobody asks for is let pass: a newer program may say more.
#[derive(Debug)]
pub struct Fields<'a>(Vec<(Cow<'a, str>, &'a RawValue)>);

/// A name that borrows from the text where it can.
#[derive(serde::Deserialize)]
struct FieldName<'a>(#[serde(borrow)] Cow<'a, str>);

impl<'de: 'a, 'a> Deserialize<'de> for Fields<'a> {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Object;
        impl<'de> Visitor<'de> for Object {
            type Value = Fields<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut fields = Vec::with_capacity(8);
                while let Some((FieldName(name), value)) = map.next_entry()? {
                    fields.push((name, value));
                }
                Ok(Fields(fields))
            }
        }
        from.deserialize_map(Object)
    }
}

impl<'a> Fields<'a> {
    /// Splits the text of an object into its fields.
    ///
    /// # Errors
    /// [`ReadRefused::BadField`] when it is no object.
    pub fn of(data: &'a str) -> Result<Self, ReadRefused> {
        read(data, "")
    }

    fn find(&self, name: &str) -> Result<Option<&'a str>, ReadRefused> {
        let mut found = self.0.iter().filter(|(given, _)| given == name);
        let first = found.next().map(|(_, raw)| raw.get());
        match found.next() {
            None => Ok(first),
            Some(_) => Err(ReadRefused::BadField {
                pointer: format!("/{name}"),
                detail: format!("`{name}` is told twice"),
            }),
        }
    }

    fn find_needed(&self, name: &str) -> Result<&'a str, ReadRefused> {
        self.find(name)?.ok_or_else(|| ReadRefused::BadField {
            pointer: String::new(),
            detail: format!("missing field `{name}`"),
        })
    }

    /// Reads a field that must be told.
    ///
    /// # Errors
    /// [`ReadRefused::BadField`] when it is missing, told twice, or cannot be.
    pub fn needed<T: Deserialize<'a>>(&self, name: &str) -> Result<T, ReadRefused> {
        read(self.find_needed(name)?, name)
    }

    /// Reads a field that may be left out or null.
    ///
    /// # Errors
    /// [`ReadRefused::BadField`] when it is told twice, or cannot be.
    pub fn optional<T: Deserialize<'a>>(&self, name: &str) -> Result<Option<T>, ReadRefused> {
        match self.find(name)? {
            None | Some("null") => Ok(None),
            Some(text) => read(text, name).map(Some),
        }
    }

    /// Reads a field of a state, which is left out where it says nothing.
    #[cfg(target_arch = "wasm32")]
    pub(crate) fn or_default<T: Deserialize<'a> + Default>(&self, name: &str) -> Result<T, ReadRefused> {
        match self.find(name)? {
            None => Ok(T::default()),
            // Our own rows: where one does not read, its name is enough.
            Some(text) => serde_json::from_str(text).map_err(|wrong| ReadRefused::BadField {
                pointer: format!("/{name}"),
                detail: wrong.to_string(),
            }),
        }
    }
}

fn read<'a, T: Deserialize<'a>>(text: &'a str, name: &str) -> Result<T, ReadRefused> {
    // The path is worked out only when there is something to report: reading twice is rare, tracking is not free.
    if let Ok(read) = serde_json::from_str(text) {
        return Ok(read);
    }
    let mut json = serde_json::Deserializer::from_str(text);
    serde_path_to_error::deserialize(&mut json).map_err(|wrong| bad(name, &wrong))
}

fn bad(name: &str, wrong: &serde_path_to_error::Error<serde_json::Error>) -> ReadRefused {
    let slash = if name.is_empty() { "" } else { "/" };
    let told = wrong.inner().to_string();
    // Line and column would count from the field's own beginning; the pointer says it better.
    let detail = told.split(" at line ").next().unwrap_or(&told);
    ReadRefused::BadField {
        pointer: format!("{slash}{name}{}", pointer(wrong.path())),
        detail: detail.to_owned(),
    }
}
