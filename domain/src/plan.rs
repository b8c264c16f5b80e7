//! Planners: what could be done next and why, worked out from what is known. Nothing here does or writes anything,
//! and nothing here grants what a decision (`decide.rs`) would refuse.
//!
//! What all planners share stands here; each has a file of its own in `plan/`. Figures inside a plan may be floats;
//! what goes in and out are whole numbers with the unit last in the name.

pub mod blending;
pub mod bottling;
pub(crate) mod described;
pub mod drying;
pub mod extraction_order;
pub mod extractor_load;
pub mod net_content;
pub(crate) mod student;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::form::Form;

/// Why a plan says what it says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// Its slug.
    pub code: String,
    /// The rule of the trade behind it.
    pub rule: String,
    /// What, in a sentence.
    pub sentence: String,
    /// The figures it rests on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub figures: Vec<Figure>,
}

/// One figure of a reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// What it is, the unit last.
    pub name: String,
    /// How much.
    pub value: i64,
}

impl Reason {
    /// A reason without figures.
    #[must_use]
    pub fn new(code: &str, rule: &str, sentence: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            rule: rule.to_owned(),
            sentence: sentence.into(),
            figures: Vec::new(),
        }
    }

    /// The same with one figure more.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<i64>) -> Self {
        self.figures.push(Figure {
            name: name.to_owned(),
            value: value.into(),
        });
        self
    }
}
