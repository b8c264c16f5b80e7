//! Forms of one value, and of several of a kind.

use std::fmt::{Display, Write};

use uuid::Uuid;

use super::{Desk, Form, Node};

impl Desk<'_> {
    /// A whole number; true where one was read that lies within its bounds.
    pub fn whole(&mut self, value: &mut i64, what: &str, low: i64, high: i64) -> bool {
        match self.node() {
            None => {
                let _ = write!(self.out, "{value}");
                return false;
            }
            Some(Node::Whole(told)) if (low..=high).contains(told) => {
                *value = *told;
                return true;
            }
            Some(Node::Whole(got)) => {
                self.refuse(format!("{what} must lie between {low} and {high}, and {got} does not"))
            }
            Some(_) => self.refuse_kind("a whole number"),
        }
        false
    }
}

impl<'a> Desk<'a> {
    /// The text that is read.
    pub(super) fn told(&mut self) -> Option<&'a str> {
        match self.node() {
            Some(Node::Text(text)) => Some(text),
            _ => {
                self.refuse_kind("text");
                None
            }
        }
    }

    /// Text that is made into a value, or made from it.
    pub fn as_text<T, E: Display>(&mut self, value: &mut T, parse: fn(&str) -> Result<T, E>, text: fn(&T) -> String) {
        if !self.reads() {
            self.text(&text(value));
        } else if let Some(told) = self.told() {
            match parse(told) {
                Ok(read) => *value = read,
                Err(wrong) => self.refuse(wrong.to_string()),
            }
        }
    }
}

macro_rules! whole {
    ($($int:ty),*) => {$(
        impl Form for $int {
            fn blank() -> Self { 0 }

            fn pass(&mut self, desk: &mut Desk<'_>) {
                let high = i64::try_from(Self::MAX).unwrap_or(i64::MAX);
                let low = i64::try_from(Self::MIN).unwrap_or(i64::MIN);
                // What is larger than any whole number here is written as the largest.
                let mut value = i64::try_from(*self).unwrap_or(i64::MAX);
                if desk.whole(&mut value, "this", low, high) {
                    *self = Self::try_from(value).unwrap_or_default();
                }
            }
        }
    )*};
}

whole!(i64, i32, i16, u64, u32, u16, u8, usize);

impl Form for bool {
    fn blank() -> Self {
        false
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        match desk.node() {
            None => desk.out.push_str(if *self { "true" } else { "false" }),
            Some(Node::Truth(is)) => *self = *is,
            Some(_) => desk.refuse_kind("true or false"),
        }
    }
}

impl Form for String {
    fn blank() -> Self {
        Self::new()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        if !desk.reads() {
            desk.text(self);
        } else if let Some(told) = desk.told() {
            told.clone_into(self);
        }
    }
}

/// A sentence of ours: written, never read.
impl Form for &'static str {
    fn blank() -> Self {
        ""
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        if desk.reads() {
            desk.refuse("this is only written".to_owned());
        } else {
            desk.text(self);
        }
    }
}

impl Form for Uuid {
    fn blank() -> Self {
        Self::nil()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        desk.as_text(self, Self::try_parse, |id| {
            id.hyphenated().encode_lower(&mut Self::encode_buffer()).to_owned()
        });
    }
}

impl<T: Form> Form for Option<T> {
    fn blank() -> Self {
        None
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        if desk.some(self.is_some()) {
            self.get_or_insert_with(T::blank).pass(desk);
        } else {
            *self = None;
        }
    }
}

impl<T: Form> Form for Vec<T> {
    fn blank() -> Self {
        Self::new()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        let items = desk.list(self.len());
        self.resize_with(items, T::blank);
        for (at, item) in self.iter_mut().enumerate() {
            desk.item(at, item);
        }
        desk.listed();
    }
}

impl<T: Form> Form for Box<T> {
    fn blank() -> Self {
        Self::new(T::blank())
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        (**self).pass(desk);
    }
}
