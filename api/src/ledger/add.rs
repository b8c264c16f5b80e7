//! Adding entries to the ledger, whoever brings them: numbers, chain, links, states, in one statement.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::entry::{Recorded, WrittenBy, corrected_by};
use domain::ids::EntryId;
use domain::subject::Subject;
use uuid::Uuid;

use super::corrections::{Member, Related, relate};
use super::erase;
use super::hash::{Hash, chain_on};
use super::new_entry::{NewEntry, Quarantine};
use super::sql::{FindBody, FindIds, FindRelated, Write};
use super::stored;
use super::tally::Times;
use super::turn::Turn;
use crate::auth::{Right, Who};
use crate::clock::NoRandomness;
use crate::projections::{Changes, StateRow};

/// What the office's entries became.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appended {
    /// Their numbers, in order; the old number for a repeat.
    pub seqs: Vec<i64>,
}

/// Why entries could not be added.
#[derive(Debug, thiserror::Error)]
pub enum AppendRefused {
    /// The id belongs to something else.
    #[error("the id {0} belongs to another entry")]
    IdReused(Uuid),
    /// The role or the device does not allow it; a call checks its right before it comes here.
    #[error("the entry {0} would only be quarantined")]
    Quarantined(Uuid),
    /// No salt can be made.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// An entry of ours cannot be written as JSON.
    #[error("an entry could not be written as JSON")]
    Json(#[from] serde_json::Error),
    /// The database refused.
    #[error("the ledger could not be written")]
    Database(#[from] diesel::result::Error),
}

/// What became of one entry.
#[derive(Clone, Copy, Debug)]
pub(super) enum Added {
    /// It is new.
    New { seq: i64, quarantine: Option<Quarantine> },
    /// The id was there already, with the same content or another.
    Known { seq: i64, same: bool },
}

impl Turn {
    /// Adds the office's entries. One whose id is there already with the same kind and data is a repeat: time and
    /// salt were made by the service each time and say nothing.
    ///
    /// # Errors
    /// When an id belongs to something else, or the database refuses.
    pub async fn append(
        &mut self,
        conn: &mut AsyncPgConnection,
        entries: &[NewEntry],
    ) -> Result<Appended, AppendRefused> {
        let all: Vec<&NewEntry> = entries.iter().collect();
        let none = HashSet::new();
        if let Some(outside) = entries.iter().find(|new| new.quarantine(&self.who, &none).is_some()) {
            return Err(AppendRefused::Quarantined(outside.id));
        }
        let added = add(self, conn, &all, None).await?;
        let mut seqs = Vec::with_capacity(added.len());
        for (new, added) in entries.iter().zip(added) {
            let seq = match added {
                // What is the office's to correct; the transaction takes back what was written.
                Added::New {
                    quarantine: Some(_), ..
                } => return Err(AppendRefused::Quarantined(new.id)),
                Added::New { seq, .. } | Added::Known { seq, same: true } => seq,
                Added::Known { seq, same: false } => {
                    if !says_the_same(conn, &self.who, new).await? {
                        return Err(AppendRefused::IdReused(new.id));
                    }
                    seq
                }
            };
            seqs.push(seq);
        }
        Ok(Appended { seqs })
    }
}

async fn says_the_same(conn: &mut AsyncPgConnection, who: &Who, new: &NewEntry) -> Result<bool, AppendRefused> {
    #[derive(serde::Deserialize)]
    struct Says {
        kind: String,
        data: serde_json::Value,
    }
    let question = FindBody {
        operation: &who.operation.uuid(),
        id: &new.id,
    };
    let body: String = question.get_result(conn).await?;
    let (old, new): (Says, Says) = (serde_json::from_str(&body)?, serde_json::from_str(&new.body)?);
    Ok(old.kind == new.kind && old.data == new.data)
}

/// An entry with its place in the ledger.
struct Fresh<'a> {
    new: &'a NewEntry,
    seq: i64,
    chain: Hash,
    device_counter: i64,
    effective_at: DateTime<Utc>,
    quarantine: Option<Quarantine>,
    recorded: Option<Recorded>,
}

/// Adds entries and refreshes every state they change. The turn knows the new head afterwards.
pub(super) async fn add(
    turn: &mut Turn,
    conn: &mut AsyncPgConnection,
    entries: &[&NewEntry],
    sent_at: Option<DateTime<Utc>>,
) -> Result<Vec<Added>, AppendRefused> {
    let ids: Vec<Uuid> = entries.iter().map(|new| new.id).collect();
    let operation = turn.who.operation.uuid();
    let found: Vec<(Uuid, i64, Option<Vec<u8>>)> = FindIds {
        ids: &ids,
        operation: &operation,
    }
    .load(conn)
    .await?;
    let mut known: HashMap<Uuid, (i64, Vec<u8>)> = HashMap::new();
    let mut awaited = HashSet::new();
    for (id, seq, hash) in found {
        match hash {
            Some(hash) => drop(known.insert(id, (seq, hash))),
            None => drop(awaited.insert(id)),
        }
    }
    let closed = closed(conn, &turn.who, entries).await?;
    let unknown: Vec<&NewEntry> = entries
        .iter()
        .filter(|new| !known.contains_key(&new.id))
        .copied()
        .collect();
    let times = Times::work_out(conn, turn, &unknown, sent_at).await?;
    let (fresh, added) = number(turn, entries, &mut known, (&times, &closed));
    if fresh.is_empty() {
        return Ok(added);
    }
    let (links, changes) = changes(conn, operation, &fresh, &awaited).await?;
    let states = changes.fold(conn, operation).await?;
    write(turn, conn, &fresh, &links, &states).await?;
    let seqs = fresh.iter().map(|told| (told.new.id, told.seq)).collect();
    times.keep(conn, turn, &seqs).await?;
    if times.erasing {
        erase::again(conn, &turn.who, &seqs).await?;
    }
    Ok(added)
}

/// Which entries this person may not correct: what only the office writes, only the office takes back.
async fn closed(
    conn: &mut AsyncPgConnection,
    who: &Who,
    entries: &[&NewEntry],
) -> Result<HashSet<Uuid>, diesel::result::Error> {
    let targets: Vec<Uuid> = entries.iter().filter_map(|new| new.corrects()).collect();
    if targets.is_empty() || who.role.may(Right::Office) {
        return Ok(HashSet::new());
    }
    let members = related(conn, who.operation.uuid(), &targets).await?;
    let of_office = |group: &Related| {
        group
            .members
            .iter()
            .any(|member| corrected_by(&member.entry) == WrittenBy::Office)
    };
    let groups = relate(members.collect()).into_iter().filter(of_office);
    Ok(groups
        .flat_map(|group| group.members)
        .map(|member| member.id.uuid())
        .collect())
}

/// The stored entries that hang together with these through corrections.
async fn related(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    ids: &[Uuid],
) -> Result<impl Iterator<Item = Member> + use<>, diesel::result::Error> {
    let rows: Vec<(stored::Row, Option<Uuid>)> = FindRelated {
        ids,
        operation: &operation,
    }
    .load(conn)
    .await?;
    let recorded: Vec<Recorded> = rows
        .iter()
        .filter_map(|(row, _)| stored::recorded_or_said(row))
        .collect();
    Ok(recorded.into_iter().map(Member::new))
}

/// Gives numbers to what is new, in the order sent.
fn number<'a>(
    turn: &mut Turn,
    entries: &[&'a NewEntry],
    known: &mut HashMap<Uuid, (i64, Vec<u8>)>,
    (times, closed): (&Times, &HashSet<Uuid>),
) -> (Vec<Fresh<'a>>, Vec<Added>) {
    let mut fresh = Vec::with_capacity(entries.len());
    let mut added = Vec::with_capacity(entries.len());
    for new in entries {
        if let Some((seq, hash)) = known.get(&new.id) {
            added.push(Added::Known {
                seq: *seq,
                same: hash[..] == new.content_hash,
            });
            continue;
        }
        turn.last_seq += 1;
        turn.chain = chain_on(&turn.chain, new.id, &new.content_hash);
        let (seq, quarantine) = (turn.last_seq, new.quarantine(&turn.who, closed));
        known.insert(new.id, (seq, new.content_hash.to_vec()));
        added.push(Added::New { seq, quarantine });
        let mut told = Fresh {
            new,
            seq,
            chain: turn.chain,
            device_counter: new.device_counter.unwrap_or(seq),
            effective_at: times.of(new),
            quarantine,
            recorded: None,
        };
        told.recorded = told.record(&turn.who);
        fresh.push(told);
    }
    (fresh, added)
}

impl Fresh<'_> {
    fn record(&self, who: &Who) -> Option<Recorded> {
        let entry = self.new.content.as_ref().ok()?;
        if self.quarantine.is_some() {
            return None;
        }
        Some(Recorded {
            id: EntryId::from_uuid(self.new.id),
            seq: self.seq,
            device: who.device,
            author: who.member,
            device_counter: self.device_counter,
            saw: self.new.saw,
            effective_at: self.effective_at,
            utc_offset_min: self.new.utc_offset_min,
            entry: entry.clone(),
        })
    }

    fn corrects(&self) -> Option<Uuid> {
        self.recorded.as_ref()?.entry.corrects().map(EntryId::uuid)
    }
}

type Links = Vec<(Subject, i64)>;

/// Which things change, and which entries they are linked to from now on.
async fn changes(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    fresh: &[Fresh<'_>],
    awaited: &HashSet<Uuid>,
) -> Result<(Links, Changes), diesel::result::Error> {
    let mut links = Links::with_capacity(fresh.len() * 2);
    let mut changes = Changes::default();
    let mut corrected: HashSet<Uuid> = fresh.iter().filter_map(Fresh::corrects).collect();
    corrected.extend(awaited);
    let mut members = Vec::new();
    for told in fresh {
        let Some(recorded) = &told.recorded else { continue };
        if told.corrects().is_some() || corrected.contains(&told.new.id) {
            members.push(Member::new(recorded.clone()));
            continue;
        }
        for subject in recorded.entry.touches() {
            links.push((subject, told.seq));
            changes.go_on(subject, recorded.clone());
        }
    }
    if members.is_empty() {
        return Ok((links, changes));
    }
    let mut ids: Vec<Uuid> = members.iter().map(|member| member.recorded.id.uuid()).collect();
    ids.extend(corrected);
    members.extend(related(conn, operation, &ids).await?);
    for related in relate(members) {
        for subject in &related.subjects {
            links.extend(related.members.iter().map(|member| (*subject, member.seq)));
            changes.anew(*subject, &related.members);
        }
    }
    Ok((links, changes))
}

async fn write(
    turn: &Turn,
    conn: &mut AsyncPgConnection,
    fresh: &[Fresh<'_>],
    links: &[(Subject, i64)],
    states: &[StateRow],
) -> Result<(), diesel::result::Error> {
    let column = Columns(fresh);
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
        fold_version: &domain::state::FOLD_VERSION,
        state_kinds: &Columns(states).of(|row| row.subject.kind.name()),
        state_ids: &Columns(states).of(|row| row.subject.id),
        changed_seqs: &Columns(states).of(|row| row.changed_seq),
        labels: &Columns(states).of(|row| row.label.as_deref()),
        statuses: &Columns(states).of(|row| row.status),
        flags: &Columns(states).of(|row| row.flags),
        states: &Columns(states).of(|row| row.state.as_str()),
        memos: &Columns(states).of(|row| row.memo.as_str()),
    };
    statement.execute(conn).await?;
    Ok(())
}

/// Rows, to be taken apart into columns.
struct Columns<'a, T>(&'a [T]);

impl<'a, T> Columns<'a, T> {
    fn of<C>(&self, column: impl Fn(&'a T) -> C) -> Vec<C> {
        self.0.iter().map(column).collect()
    }
}
