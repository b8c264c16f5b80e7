//! JSON as text, the same to the byte as `serde_json` writes it.

use std::fmt::Write;

use super::{Desk, Form, Node};

impl Desk<'_> {
    /// A comma, where something stands before.
    pub(super) fn comma(&mut self) {
        if !matches!(self.out.bytes().last(), None | Some(b'{' | b'[' | b':' | b',')) {
            self.out.push(',');
        }
    }

    /// The name of the next field.
    pub(super) fn key(&mut self, name: &str) {
        self.comma();
        self.text(name);
        self.out.push(':');
    }

    /// Writes text.
    pub(super) fn text(&mut self, text: &str) {
        self.out.push('"');
        for letter in text.chars() {
            let short = match letter {
                '"' => "\\\"",
                '\\' => "\\\\",
                '\n' => "\\n",
                '\r' => "\\r",
                '\t' => "\\t",
                '\u{8}' => "\\b",
                '\u{c}' => "\\f",
                '\0'..='\u{1f}' => {
                    let _ = write!(self.out, "\\u{:04x}", u32::from(letter));
                    continue;
                }
                letter => {
                    self.out.push(letter);
                    continue;
                }
            };
            self.out.push_str(short);
        }
        self.out.push('"');
    }
}

/// JSON that is written as it stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Raw(pub String);

impl Form for Raw {
    fn blank() -> Self {
        Self::default()
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        if desk.reads() {
            desk.refuse("this is only written".to_owned());
        } else {
            desk.out.push_str(&self.0);
        }
    }
}

impl Node<'_> {
    /// The same as JSON again, without the space between.
    #[must_use]
    pub fn text(&self) -> String {
        let mut desk = Desk::writing();
        desk.put(self);
        desk.written()
    }
}

impl Desk<'_> {
    fn put(&mut self, node: &Node<'_>) {
        match node {
            Node::Null => self.out.push_str("null"),
            Node::Truth(is) => self.out.push_str(if *is { "true" } else { "false" }),
            Node::Whole(whole) => {
                let _ = write!(self.out, "{whole}");
            }
            Node::Number(told) => self.out.push_str(told),
            Node::Text(text) => self.text(text),
            Node::List(items) => {
                self.out.push('[');
                for item in items {
                    self.comma();
                    self.put(item);
                }
                self.out.push(']');
            }
            Node::Object(fields) => {
                self.out.push('{');
                for (name, value) in fields {
                    self.key(name);
                    self.put(value);
                }
                self.out.push('}');
            }
        }
    }
}
