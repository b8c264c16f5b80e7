//! The office's calls: lists and single things, what happened as sub-resources, reports.
//!
//! They are strict: what contradicts the book is refused with a sentence, while a phone's entry is kept and flagged.
//! Both write the same entries through the same ledger.

mod corrections;
mod edits;
mod profile;
mod reads;
mod recalls;
mod reports;
mod seasons;
mod writes;

use diesel_async::AsyncPgConnection;
use domain::house::House;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};

use super::calls::Calls;
use super::problem::Problem;
use crate::auth::Who;
use crate::projections::read;

/// Every path of the office.
pub(super) fn routes(cfg: &mut impl Calls) {
    reads::routes(cfg);
    edits::routes(cfg);
    writes::routes(cfg);
    corrections::routes(cfg);
    reports::routes(cfg);
    seasons::routes(cfg);
    recalls::routes(cfg);
    profile::routes(cfg);
}

/// Everything of the operation that this caller may read.
pub(super) async fn whole_house(conn: &mut AsyncPgConnection, who: &Who) -> Result<House, Problem> {
    let rows = read::load_kinds(conn, who, SubjectKind::ALL).await?;
    let mut house = House::default();
    for row in rows {
        let state = State::read(row.subject.kind, &row.state, &row.memo).map_err(Problem::internal)?;
        house.insert(row.subject, state);
    }
    Ok(house)
}

/// Some things, and the settings.
pub(super) async fn some(conn: &mut AsyncPgConnection, who: &Who, mut of: Vec<Subject>) -> Result<House, Problem> {
    of.push(who.operation.into());
    let mut house = House::default();
    for (subject, state, _) in read::load(conn, who, &of).await? {
        house.insert(subject, state);
    }
    Ok(house)
}
