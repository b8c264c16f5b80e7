//! The one shape of every answer about a season: tables of rows, each row with its figures by name.
//!
//! A figure's name ends in its unit; JSON, CSV and the console print the same figures. Rows are sorted by name and
//! never by value: a table is no ranking.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::figure::{Figure, LeftOut};
use crate::house::House;
use crate::subject::Subject;

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Answer {
    /// What was asked: `yards`, `colonies`, ...
    pub report: String,
    /// Of when: a year, or the first and the last year.
    pub period: String,
    /// The tables.
    pub tables: Vec<Table>,
    /// What has to be said beside them, in sentences.
    pub words: Vec<String>,
}

/// Rows of one kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Table {
    /// What the rows are.
    pub name: String,
    /// The rows, by name.
    pub rows: Vec<Row>,
}

/// One thing, or one thing on one day or in one season.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Row {
    /// The thing, if it is one of the ledger's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<Subject>,
    /// What people call it.
    pub name: String,
    /// In what it stands, or with what it is compared: the yard of a hive, the other line of a pair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beside: Option<String>,
    /// The day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<NaiveDate>,
    /// The season, in tables of several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub season: Option<i32>,
    /// The figures, by name; each name ends in its unit.
    pub figures: BTreeMap<String, Figure>,
    /// What has to be said of this row: marks in one word each, or sentences.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub words: Vec<String>,
}

impl Answer {
    pub(super) fn new(report: &str, period: impl Into<String>) -> Self {
        Self {
            report: report.to_owned(),
            period: period.into(),
            tables: Vec::new(),
            words: Vec::new(),
        }
    }

    pub(super) fn table(&mut self, name: &str, mut rows: Vec<Row>) {
        rows.sort_by(|a, b| a.place().cmp(&b.place()));
        self.tables.push(Table {
            name: name.to_owned(),
            rows,
        });
    }

    /// A table by name.
    #[must_use]
    pub fn of(&self, table: &str) -> &[Row] {
        let found = self.tables.iter().find(|of| of.name == table);
        found.map_or(&[], |of| of.rows.as_slice())
    }
}

impl Row {
    pub(super) fn new(name: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            ..Self::default()
        }
    }

    pub(super) fn of(house: &House, subject: impl Into<Subject>) -> Self {
        let subject = subject.into();
        Self {
            id: Some(subject),
            name: house.label(subject),
            ..Self::default()
        }
    }

    pub(super) fn figure(&mut self, name: &str, figure: Figure) {
        self.figures.insert(name.to_owned(), figure);
    }

    pub(super) fn with(mut self, name: &str, figure: Figure) -> Self {
        self.figure(name, figure);
        self
    }

    pub(super) fn say(&mut self, words: impl Into<String>) {
        self.words.push(words.into());
    }

    /// By name, then by what it stands in, season, day and id.
    fn place(&self) -> (&str, Option<&str>, Option<i32>, Option<NaiveDate>, Option<Subject>) {
        (&self.name, self.beside.as_deref(), self.season, self.on, self.id)
    }

    /// A figure's value.
    #[must_use]
    pub fn value(&self, figure: &str) -> Option<i64> {
        self.figures.get(figure).and_then(|figure| figure.value)
    }
}

impl Figure {
    /// A plain value of so many.
    #[must_use]
    pub(super) fn plain(period: &str, value: i64, n: usize) -> Self {
        Self {
            value: Some(value),
            ..Self::of(period).counting(n)
        }
    }

    /// Of how many it is.
    #[must_use]
    pub(super) fn counting(mut self, n: usize) -> Self {
        self.n = i64::try_from(n).unwrap_or(i64::MAX);
        self
    }

    /// With what was not counted, in order.
    #[must_use]
    pub(super) fn without(mut self, left_out: impl IntoIterator<Item = LeftOut>) -> Self {
        self.left_out.extend(left_out);
        self.left_out.sort();
        self.left_out.dedup();
        self
    }
}

impl LeftOut {
    /// A thing and why it was not counted.
    #[must_use]
    pub(super) fn because(house: &House, subject: impl Into<Subject>, reason: &str) -> Self {
        let subject = subject.into();
        Self {
            name: house.label(subject),
            id: subject.id,
            reason: reason.to_owned(),
        }
    }
}
