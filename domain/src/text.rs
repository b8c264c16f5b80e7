//! Words that people type: trimmed, of bounded length, and free of control characters.

use serde::{Deserialize, Serialize};

/// Text that cannot be kept as it stands.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextRefused {
    /// Nothing but space.
    #[error("{what} must not be empty")]
    Empty {
        /// What was read.
        what: &'static str,
    },
    /// Longer than a screen or a label can show.
    #[error("{what} may have {most} characters, and this has {got}")]
    TooLong {
        /// What was read.
        what: &'static str,
        /// The most characters.
        most: usize,
        /// The characters there were.
        got: usize,
    },
    /// A character that no keyboard types and no printer prints.
    #[error("{what} contains a control character at position {at}")]
    Control {
        /// What was read.
        what: &'static str,
        /// Which character, counted from 1.
        at: usize,
    },
}

macro_rules! texts {
    ($($(#[$doc:meta])* $name:ident $what:literal $least:literal ..= $most:literal lines $lines:literal),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
        #[serde(try_from = "String", into = "String")]
        #[schema(value_type = String)]
        pub struct $name(String);

        impl $name {
            /// Reads text; space around it is dropped.
            ///
            /// # Errors
            /// [`TextRefused`] when it is empty, too long or not printable.
            pub fn new(text: &str) -> Result<Self, TextRefused> {
                let text = text.trim();
                if $least > 0 && text.is_empty() {
                    return Err(TextRefused::Empty { what: $what });
                }
                let got = text.chars().count();
                if got > $most {
                    return Err(TextRefused::TooLong { what: $what, most: $most, got });
                }
                let breaks = |c: char| $lines && (c == '\n' || c == '\t');
                match text.chars().position(|c| c.is_control() && !breaks(c)) {
                    Some(at) => Err(TextRefused::Control { what: $what, at: at + 1 }),
                    None => Ok(Self(text.to_owned())),
                }
            }

            /// The words.
            #[must_use]
            pub fn as_str(&self) -> &str { &self.0 }
        }

        impl crate::form::Form for $name {
            fn blank() -> Self { Self(String::new()) }

            fn pass(&mut self, desk: &mut crate::form::Desk<'_>) {
                desk.as_text(self, Self::new, |text| text.0.clone());
            }
        }

        impl TryFrom<String> for $name {
            type Error = TextRefused;
            fn try_from(text: String) -> Result<Self, TextRefused> { Self::new(&text) }
        }

        impl From<$name> for String {
            fn from(text: $name) -> String { text.0 }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(&self.0) }
        }
    )*};
}

texts! {
    /// A name, number or short mark: what is painted on a box or written over a yard.
    Name "a name" 1 ..= 120 lines false,
    /// A reason or a remark.
    Text "a text" 1 ..= 4000 lines true,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn space_around_a_name_is_dropped_and_the_zero_in_front_of_a_number_kept() {
        assert_eq!(Name::new(" 041 ").expect("a number is a name").as_str(), "041");
    }

    #[test]
    fn a_name_with_a_line_break_is_refused_with_its_place() {
        assert_eq!(Name::new("a\nb"), Err(TextRefused::Control { what: "a name", at: 2 }));
    }
}
