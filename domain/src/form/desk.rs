//! Where forms are read and written: one code for all of them.

use std::borrow::Cow;

use super::{Form, Node};
use crate::entry::ReadRefused;

/// A step on the way to where the desk is at work.
#[derive(Clone, Copy, Debug)]
enum Step {
    Field(&'static str),
    Item(usize),
}

/// An object that is being read or written.
#[derive(Clone, Copy, Debug)]
struct Open<'a> {
    fields: &'a [(Cow<'a, str>, Node<'a>)],
    /// Its fields stand among those of the object around it.
    flat: bool,
}

/// Reads into forms, or writes out of them. The first thing that is wrong is kept, and what comes after it is no
/// longer of interest.
#[derive(Debug)]
pub struct Desk<'a> {
    /// What is read next; nothing where the desk writes.
    at: Option<&'a Node<'a>>,
    pub(super) out: String,
    way: Vec<Step>,
    open: Vec<Open<'a>>,
    lists: Vec<&'a [Node<'a>]>,
    /// What stands around what is read under a word.
    around: Vec<&'a Node<'a>>,
    /// The next object is told among the fields of this one.
    flat: bool,
    wrong: Option<ReadRefused>,
}

impl<'a> Desk<'a> {
    fn new(at: Option<&'a Node<'a>>) -> Self {
        Self {
            at,
            out: String::new(),
            way: Vec::new(),
            open: Vec::new(),
            lists: Vec::new(),
            around: Vec::new(),
            flat: false,
            wrong: None,
        }
    }

    pub(super) fn reading(node: &'a Node<'a>) -> Self {
        Self::new(Some(node))
    }

    pub(super) fn writing() -> Self {
        Self::new(None)
    }

    pub(super) fn read(self) -> Result<(), ReadRefused> {
        self.wrong.map_or(Ok(()), Err)
    }

    pub(super) fn written(self) -> String {
        self.out
    }

    /// Whether the desk reads, and does not write.
    #[must_use]
    pub const fn reads(&self) -> bool {
        self.at.is_some()
    }

    /// What lies on the desk to be read; nothing where it writes.
    #[must_use]
    pub const fn node(&self) -> Option<&'a Node<'a>> {
        self.at
    }

    /// Says that what lies here cannot be.
    pub fn refuse(&mut self, detail: String) {
        let pointer = self.pointer();
        self.fail(ReadRefused::BadField { pointer, detail });
    }

    /// Says that a field of the open object cannot be.
    pub fn refuse_field(&mut self, name: &str, detail: String) {
        let pointer = format!("{}/{}", self.pointer(), escaped(name));
        self.fail(ReadRefused::BadField { pointer, detail });
    }

    /// Says that reading is in vain.
    pub fn fail(&mut self, refused: ReadRefused) {
        self.wrong.get_or_insert(refused);
    }

    /// Says what should lie here.
    pub(super) fn refuse_kind(&mut self, wanted: &str) {
        let is = self.at.map_or_else(String::new, Node::is);
        self.refuse(format!("this has to be {wanted}, and it is {is}"));
    }

    fn pointer(&self) -> String {
        let mut pointer = String::new();
        for step in &self.way {
            pointer.push('/');
            match step {
                Step::Field(name) => pointer.push_str(&escaped(name)),
                Step::Item(at) => pointer.push_str(&at.to_string()),
            }
        }
        pointer
    }

    /// Begins an object. Where fields are named here, others are refused.
    pub fn open(&mut self, known: &[&str]) {
        let flat = std::mem::take(&mut self.flat);
        let fields: &'a [(Cow<'a, str>, Node<'a>)] = match self.at {
            _ if flat => self.open.last().map_or(&[], |around| around.fields),
            None => {
                self.out.push('{');
                &[]
            }
            Some(Node::Object(fields)) => fields,
            Some(_) => {
                self.refuse_kind("an object");
                &[]
            }
        };
        if let Some((unknown, _)) = fields
            .iter()
            .find(|(name, _)| !known.is_empty() && !known.contains(&&**name))
        {
            self.refuse_field(
                unknown,
                format!("unknown field `{unknown}`, there are {}", known.join(", ")),
            );
        }
        self.open.push(Open { fields, flat });
    }

    /// Ends an object.
    pub fn close(&mut self) {
        let flat = self.open.pop().is_some_and(|open| open.flat);
        if !flat && !self.reads() {
            self.out.push('}');
        }
    }

    /// A field that must be told.
    pub fn field(&mut self, name: &'static str, form: &mut dyn Form) {
        if !self.passed(name, form) {
            self.refuse(format!("missing field `{name}`"));
        }
    }

    /// A field that may be left out.
    pub fn may(&mut self, name: &'static str, form: &mut dyn Form) {
        self.passed(name, form);
    }

    /// A field that may be left out, and is where it says nothing.
    pub fn spare(&mut self, name: &'static str, spared: bool, form: &mut dyn Form) {
        if self.reads() || !spared {
            self.passed(name, form);
        }
    }

    /// An object whose fields stand among those of the open one.
    pub fn flat(&mut self, form: &mut dyn Form) {
        self.flat = true;
        form.pass(self);
    }

    fn passed(&mut self, name: &'static str, form: &mut dyn Form) -> bool {
        if !self.reads() {
            self.key(name);
            form.pass(self);
            return true;
        }
        let Some(node) = self.find(name) else {
            return false;
        };
        self.at(Step::Field(name), node, form);
        true
    }

    fn at(&mut self, step: Step, node: &'a Node<'a>, form: &mut dyn Form) {
        let around = self.at.replace(node);
        self.way.push(step);
        form.pass(self);
        self.way.pop();
        self.at = around;
    }

    fn find(&mut self, name: &str) -> Option<&'a Node<'a>> {
        let mut found = self.open.last()?.fields.iter().filter(|(given, _)| given == name);
        let (_, node) = found.next()?;
        if found.next().is_some() {
            self.refuse_field(name, format!("`{name}` is told twice"));
        }
        Some(node)
    }

    /// Begins a list and says how many items it has: so many as are told, or as many as are to be written.
    pub fn list(&mut self, items: usize) -> usize {
        match self.at {
            None => {
                self.out.push('[');
                items
            }
            Some(Node::List(list)) => {
                self.lists.push(list);
                list.len()
            }
            Some(_) => {
                self.refuse_kind("a list");
                self.lists.push(&[]);
                0
            }
        }
    }

    /// An item of the list.
    pub fn item(&mut self, at: usize, form: &mut dyn Form) {
        if !self.reads() {
            self.comma();
            form.pass(self);
        } else if let Some(node) = self.lists.last().and_then(|list| list.get(at)) {
            self.at(Step::Item(at), node, form);
        }
    }

    /// Ends a list.
    pub fn listed(&mut self) {
        if self.reads() {
            self.lists.pop();
        } else {
            self.out.push(']');
        }
    }

    /// Whether there is anything; `is` says it of what is to be written.
    pub fn some(&mut self, is: bool) -> bool {
        match self.at {
            None if !is => {
                self.out.push_str("null");
                false
            }
            None => true,
            Some(node) => *node != Node::Null,
        }
    }

    /// One of some words: which was read. `now` is the one to be written.
    pub fn word(&mut self, words: &[&str], now: usize) -> Option<usize> {
        if !self.reads() {
            self.text(words.get(now).copied().unwrap_or_default());
            return None;
        }
        let told = self.told()?;
        self.which(words, told)
    }

    fn which(&mut self, words: &[&str], told: &str) -> Option<usize> {
        let which = words.iter().position(|word| *word == told);
        if which.is_none() {
            self.refuse(format!("unknown word `{told}`, there are {}", words.join(", ")));
        }
        which
    }

    /// The word in a field of the open object that tells what the others are: which was read.
    pub fn tag(&mut self, name: &'static str, words: &[&str], now: usize) -> Option<usize> {
        let mut word = Word { words, which: now };
        self.field(name, &mut word);
        self.reads().then_some(word.which)
    }

    /// What stands alone as a word, or under one: which was read.
    pub fn choice(&mut self, words: &[&str]) -> Option<usize> {
        match self.at? {
            Node::Text(word) => self.which(words, word),
            Node::Object(fields) if let [(word, _)] = &**fields => self.which(words, word),
            _ => {
                self.refuse_kind("a word, or an object with one field");
                None
            }
        }
    }

    /// The choice of a word alone.
    pub fn bare(&mut self, word: &'static str) {
        match self.at {
            None => self.text(word),
            Some(Node::Text(_)) => {}
            Some(_) => self.refuse(format!("`{word}` stands alone")),
        }
    }

    /// Begins what stands under a word.
    pub fn within(&mut self, word: &'static str) {
        let Some(node) = self.at else {
            self.out.push('{');
            self.key(word);
            return;
        };
        self.around.push(node);
        match node {
            Node::Object(fields) if let [(_, under)] = &**fields => self.at = Some(under),
            _ => self.refuse(format!("`{word}` needs something under it")),
        }
        self.way.push(Step::Field(word));
    }

    /// Ends it.
    pub fn without(&mut self) {
        if self.reads() {
            self.way.pop();
            self.at = self.around.pop().or(self.at);
        } else {
            self.out.push('}');
        }
    }

    /// Begins a list that always has so many items.
    pub fn tuple(&mut self, items: usize) {
        if self.list(items) != items {
            self.refuse(format!("this has to be a list of {items}"));
        }
    }
}

/// The word of a tag.
struct Word<'w> {
    words: &'w [&'w str],
    which: usize,
}

impl Form for Word<'_> {
    fn blank() -> Self {
        Self { words: &[], which: 0 }
    }

    fn pass(&mut self, desk: &mut Desk<'_>) {
        if let Some(which) = desk.word(self.words, self.which) {
            self.which = which;
        }
    }
}

/// A name as a step of a pointer (RFC 6901).
fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
