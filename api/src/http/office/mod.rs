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

/// Kinds of which two may bear one number or code.
const SHARED: [SubjectKind; 3] = [SubjectKind::Super, SubjectKind::Lot, SubjectKind::Batch];

/// Some things, those that bear the same number or code, so that a sentence can tell them apart, and the settings.
pub(super) async fn some(conn: &mut AsyncPgConnection, who: &Who, mut of: Vec<Subject>) -> Result<House, Problem> {
    of.push(who.operation.into());
    let mut house = House::default();
    for (subject, state, _) in read::load(conn, who, &of).await? {
        house.insert(subject, state);
    }
    let borne = house.iter().filter(|(subject, _)| SHARED.contains(&subject.kind));
    let borne: Vec<_> = borne
        .filter_map(|(subject, state)| Some((subject.kind, state.label()?)))
        .collect();
    if !borne.is_empty() {
        for (subject, state, _) in read::load_bearing(conn, who, &borne).await? {
            house.insert(subject, state);
        }
    }
    Ok(house)
}
