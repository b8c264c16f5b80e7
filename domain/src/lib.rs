//! The rules of honey from yard to jar. Pure: told the time, given the ids, doing no input or output.
//!
//! One file a thing of the trade, each with its entries, its fold and its decisions. The marks in brackets
//! (AL-3, MO-6, ...) name the rule of the trade that a piece of code is the one home of.
// A phone does without descriptions, and so without what they name.
#![cfg_attr(target_arch = "wasm32", allow(unused_imports, unused_variables, dead_code))]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod allocation;
pub mod balance;
pub mod batch;
pub mod blend;
pub mod books;
pub mod caution;
pub mod clearing;
pub mod colony;
pub mod common;
pub mod content;
pub mod decide;
pub mod delivery;
pub mod described;
pub mod disease;
pub mod doubts;
pub mod entry;
pub mod extraction;
pub mod feed;
pub mod fill;
pub mod fold;
pub mod form;
pub mod grown;
pub mod gs1;
pub mod hive;
pub mod holds;
pub mod honey_super;
pub mod house;
pub mod ids;
pub mod inspection;
pub mod left;
pub mod limits;
pub mod lot;
pub mod lot_code;
pub mod medicine;
pub mod meter;
pub mod moisture;
pub mod net_content;
pub mod next;
pub mod ordered;
pub mod personal;
pub mod phone;
pub mod plan;
pub mod profile;
pub mod recall;
pub mod reckon;
pub mod science;
#[cfg(feature = "season")]
pub mod season;
pub mod settings;
pub mod settle;
pub mod state;
pub mod subject;
pub mod taint;
pub mod text;
pub mod trace;
pub mod treatment;
pub mod units;
pub mod warm_room;
pub mod weighing;
pub mod yard;
pub mod yields;
