//! Short texts that people type, checked as they are read.

use serde::Deserialize;

/// A name of 1 to `MAX` characters on one line, without blanks around it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Name<const MAX: usize>(String);

/// A text that is no name.
#[derive(Debug, thiserror::Error)]
#[error("a name has 1 to {0} characters on one line")]
pub struct NotAName(usize);

impl<const MAX: usize> TryFrom<String> for Name<MAX> {
    type Error = NotAName;

    fn try_from(text: String) -> Result<Self, NotAName> {
        let text = text.trim();
        let fits = (1..=MAX).contains(&text.chars().count()) && !text.chars().any(char::is_control);
        if fits {
            Ok(Self(text.to_owned()))
        } else {
            Err(NotAName(MAX))
        }
    }
}

impl<const MAX: usize> Name<MAX> {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl<const MAX: usize> From<Name<MAX>> for String {
    fn from(name: Name<MAX>) -> Self {
        name.0
    }
}

/// What somebody types to sign in, in small letters.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Login(String);

/// A text that is no login.
#[derive(Debug, thiserror::Error)]
#[error("a login has 3 to 64 characters, none of them blank")]
pub struct NotALogin;

impl TryFrom<String> for Login {
    type Error = NotALogin;

    fn try_from(text: String) -> Result<Self, NotALogin> {
        crate::auth::console::login_form(&text).map(Self).ok_or(NotALogin)
    }
}

impl From<Login> for String {
    fn from(login: Login) -> Self {
        login.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_short_line() {
        let read = |text: &str| Name::<5>::try_from(text.to_owned()).map(String::from).ok();
        assert_eq!(read(" Anna "), Some("Anna".to_owned()));
        for odd in ["", "  ", "Annabel", "An\nna"] {
            assert_eq!(read(odd), None, "{odd:?}");
        }
    }
}
