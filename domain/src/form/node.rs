//! JSON as it was told, before anybody asks what it means.
//!
//! A reader of our own, for serde_json's many ways would be a tenth of all that a phone has to fetch. It takes what
//! serde_json takes, and `domain/tests/forms.rs` holds one against the other.

use std::borrow::Cow;

use crate::entry::ReadRefused;

/// How deep values may stand in one another.
const DEEPEST: usize = 127;

/// A value of JSON. Fields keep their order, and a field told twice is there twice.
#[derive(Clone, Debug, PartialEq)]
pub enum Node<'a> {
    /// Nothing.
    Null,
    /// Yes or no.
    Truth(bool),
    /// A whole number.
    Whole(i64),
    /// A number that is not whole or too large, as it was told.
    Number(&'a str),
    /// Words.
    Text(Cow<'a, str>),
    /// Values in order.
    List(Vec<Self>),
    /// Fields by name.
    Object(Vec<(Cow<'a, str>, Self)>),
}

impl<'a> Node<'a> {
    /// Takes text apart.
    ///
    /// # Errors
    /// [`ReadRefused::BadField`] where it is not JSON.
    pub fn read(text: &'a str) -> Result<Self, ReadRefused> {
        let mut reader = Reader { text, at: 0 };
        let read = reader.value(0);
        reader.space();
        match read {
            Some(node) if reader.at == text.len() => Ok(node),
            _ => Err(ReadRefused::BadField {
                pointer: String::new(),
                detail: format!("this is not JSON from byte {} on", reader.at + 1),
            }),
        }
    }

    /// The field of that name.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&Self> {
        let Self::Object(fields) = self else { return None };
        fields.iter().find(|(told, _)| told == name).map(|(_, node)| node)
    }

    /// What it is, for sentences.
    pub(super) fn is(&self) -> String {
        match self {
            Self::Text(_) => "text".to_owned(),
            Self::List(_) => "a list".to_owned(),
            Self::Object(_) => "an object".to_owned(),
            plain => plain.text(),
        }
    }
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Reader<'a> {
    fn space(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t' | b'\n' | b'\r')) {
            self.at += 1;
        }
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn take(&mut self, mark: u8) -> bool {
        let is = self.peek() == Some(mark);
        self.at += usize::from(is);
        is
    }

    fn word(&mut self, word: &str, node: Node<'a>) -> Option<Node<'a>> {
        self.text.get(self.at..)?.starts_with(word).then(|| {
            self.at += word.len();
            node
        })
    }

    fn value(&mut self, depth: usize) -> Option<Node<'a>> {
        self.space();
        match self.peek()? {
            b'{' | b'[' if depth >= DEEPEST => None,
            b'{' => {
                let mut fields = Vec::new();
                self.each(b'}', |reader| {
                    reader.space();
                    let name = reader.string()?;
                    reader.space();
                    let value = reader.take(b':').then(|| reader.value(depth + 1))??;
                    fields.push((name, value));
                    Some(())
                })?;
                Some(Node::Object(fields))
            }
            b'[' => {
                let mut items = Vec::new();
                self.each(b']', |reader| {
                    items.push(reader.value(depth + 1)?);
                    Some(())
                })?;
                Some(Node::List(items))
            }
            b'"' => self.string().map(Node::Text),
            b'n' => self.word("null", Node::Null),
            b't' => self.word("true", Node::Truth(true)),
            b'f' => self.word("false", Node::Truth(false)),
            _ => self.number(),
        }
    }

    /// What stands between two brackets, with commas between.
    fn each(&mut self, end: u8, mut one: impl FnMut(&mut Self) -> Option<()>) -> Option<()> {
        self.at += 1;
        self.space();
        if self.take(end) {
            return Some(());
        }
        loop {
            one(self)?;
            self.space();
            if self.take(end) {
                return Some(());
            }
            if !self.take(b',') {
                return None;
            }
        }
    }

    fn digits(&mut self) -> Option<()> {
        let from = self.at;
        while matches!(self.peek(), Some(b'0'..=b'9')) {
            self.at += 1;
        }
        (self.at > from).then_some(())
    }

    fn number(&mut self) -> Option<Node<'a>> {
        let from = self.at;
        self.take(b'-');
        if !self.take(b'0') {
            self.digits()?;
        }
        let mut whole = true;
        if self.take(b'.') {
            whole = false;
            self.digits()?;
        }
        if self.take(b'e') || self.take(b'E') {
            whole = false;
            let _ = self.take(b'+') || self.take(b'-');
            self.digits()?;
        }
        let text = self.text.get(from..self.at)?;
        let read = text.parse().ok().filter(|_| whole && text != "-0");
        Some(read.map_or(Node::Number(text), Node::Whole))
    }

    fn string(&mut self) -> Option<Cow<'a, str>> {
        if !self.take(b'"') {
            return None;
        }
        let mut from = self.at;
        let mut before = String::new();
        loop {
            match self.peek()? {
                b'"' => {
                    let rest = self.text.get(from..self.at)?;
                    self.at += 1;
                    return Some(if before.is_empty() {
                        Cow::Borrowed(rest)
                    } else {
                        Cow::Owned(before + rest)
                    });
                }
                b'\\' => {
                    before.push_str(self.text.get(from..self.at)?);
                    self.at += 1;
                    before.push(self.escape()?);
                    from = self.at;
                }
                0..=0x1f => return None,
                _ => self.at += 1,
            }
        }
    }

    fn escape(&mut self) -> Option<char> {
        let mark = self.peek()?;
        self.at += 1;
        Some(match mark {
            b'"' | b'\\' | b'/' => char::from(mark),
            b'b' => '\u{8}',
            b'f' => '\u{c}',
            b'n' => '\n',
            b'r' => '\r',
            b't' => '\t',
            b'u' => {
                let first = self.four()?;
                if !(0xd800..0xdc00).contains(&first) {
                    return char::from_u32(first);
                }
                // Letters beyond 16 bits are told as two.
                let second = (self.take(b'\\') && self.take(b'u')).then(|| self.four())??;
                let low = second.checked_sub(0xdc00).filter(|low| *low < 0x400)?;
                char::from_u32(0x10000 + ((first - 0xd800) << 10) + low)?
            }
            _ => return None,
        })
    }

    fn four(&mut self) -> Option<u32> {
        let digits = self.text.get(self.at..self.at + 4)?;
        self.at += 4;
        let hex = digits.bytes().all(|byte| byte.is_ascii_hexdigit());
        u32::from_str_radix(digits, 16).ok().filter(|_| hex)
    }
}
