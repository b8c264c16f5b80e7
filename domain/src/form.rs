//! Forms: what is filled in from JSON and copied out as JSON, field by field.
//!
//! A phone has to fetch the code that reads and writes. So a struct tells its fields once, for both ways, and one desk
//! does the work for all of them; serde, quicker but larger, would bring code of its own for every struct, twice. What
//! is read and written is the same either way, and `domain/tests/forms.rs` holds one against the other. Entries and
//! computations are read as forms everywhere, so that service and phone refuse alike.

use crate::entry::ReadRefused;

mod desk;
mod node;
mod plain;
mod time;
mod writing;

pub use desk::Desk;
pub use domain_derive::Form;
pub use node::Node;
pub use writing::Raw;

/// Something that can pass over a [`Desk`]. Derived from the fields and their `#[serde(..)]` attributes.
pub trait Form {
    /// One that nobody has filled in yet. It may hold what could never be read; nobody gets to see it.
    fn blank() -> Self
    where
        Self: Sized;

    /// Is filled in from what lies on the desk, or copied out to it.
    fn pass(&mut self, desk: &mut Desk<'_>);
}

/// Reads a form.
///
/// # Errors
/// [`ReadRefused`], with the place of the first thing that is wrong.
pub fn read<T: Form>(text: &str) -> Result<T, ReadRefused> {
    filled(T::blank(), &Node::read(text)?)
}

/// Fills in a form.
///
/// # Errors
/// [`ReadRefused`], with the place of the first thing that is wrong.
pub fn filled<T: Form>(mut blank: T, from: &Node<'_>) -> Result<T, ReadRefused> {
    fill(&mut blank, from)?;
    Ok(blank)
}

pub(crate) fn fill(form: &mut dyn Form, from: &Node<'_>) -> Result<(), ReadRefused> {
    let mut desk = Desk::reading(from);
    form.pass(&mut desk);
    desk.read()
}

/// Writes a form. It is the same afterwards; `&mut` since both ways are told in one.
pub fn written(form: &mut dyn Form) -> String {
    let mut desk = Desk::writing();
    form.pass(&mut desk);
    desk.written()
}
