//! The one statement in which a write ends: counter, entries, links, states and their parts.

use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::subject::Subject;

use super::add::Fresh;
use super::new_entry::Quarantine;
use super::sql::Write;
use super::turn::Turn;
use crate::projections::{StateRow, new_parts};

/// Writes entries, links and states, with the head that the turn knows.
///
/// # Errors
/// When the database refuses.
pub(super) async fn write(
    turn: &Turn,
    mut conn: &AsyncPgConnection,
    fresh: &[Fresh<'_>],
    links: &[(Subject, i64)],
    states: &[StateRow],
) -> Result<(), diesel::result::Error> {
    let column = Columns(fresh);
    let parts = new_parts(states);
    let statement = Write {
        last_seq: &turn.last_seq,
        chain: &turn.chain,
        received_at: &turn.received_at,
        operation: &turn.who.operation.uuid(),
        device: &turn.who.device.uuid(),
        author: &turn.who.member.uuid(),
        seqs: &column.of(|told| told.seq),
        ids: &column.of(|told| told.new.id),
        kinds: &column.of(|told| told.new.kind.as_str()),
        versions: &column.of(|told| i32::from(told.new.v)),
        bodies: &column.of(|told| told.new.body.as_str()),
        device_counters: &column.of(|told| told.device_counter),
        saws: &column.of(|told| told.new.saw),
        happened: &column.of(|told| told.new.happened_at),
        utc_offsets: &column.of(|told| told.new.utc_offset_min),
        effective: &column.of(|told| told.effective_at),
        content_hashes: &column.of(|told| &told.new.content_hash[..]),
        chains: &column.of(|told| told.chain.to_vec()),
        corrects: &column.of(Fresh::corrects),
        quarantines: &column.of(|told| told.quarantine.map(Quarantine::word)),
        link_kinds: &Columns(links).of(|(subject, _)| subject.kind.name()),
        link_ids: &Columns(links).of(|(subject, _)| subject.id),
        link_seqs: &Columns(links).of(|(_, seq)| *seq),
        part_kinds: &Columns(&parts).of(|(subject, ..)| subject.kind.name()),
        part_ids: &Columns(&parts).of(|(subject, ..)| subject.id),
        part_numbers: &Columns(&parts).of(|(_, n, ..)| *n),
        part_states: &Columns(&parts).of(|(_, _, state, _)| *state),
        part_memos: &Columns(&parts).of(|(.., memo)| *memo),
        fold_version: &domain::state::FOLD_VERSION,
        state_kinds: &Columns(states).of(|row| row.subject.kind.name()),
        state_ids: &Columns(states).of(|row| row.subject.id),
        changed_seqs: &Columns(states).of(|row| row.changed_seq),
        labels: &Columns(states).of(|row| row.label.as_deref()),
        statuses: &Columns(states).of(|row| row.status),
        flags: &Columns(states).of(|row| row.flags),
        states: &Columns(states).of(|row| row.state.as_str()),
        memos: &Columns(states).of(|row| row.memo.as_str()),
        parts: &Columns(states).of(|row| row.parts.count()),
    };
    statement.execute(&mut conn).await?;
    Ok(())
}

/// Rows, to be taken apart into columns.
struct Columns<'a, T>(&'a [T]);

impl<'a, T> Columns<'a, T> {
    fn of<C>(&self, column: impl Fn(&'a T) -> C) -> Vec<C> {
        self.0.iter().map(column).collect()
    }
}
