//! Adding entries to the ledger, whoever brings them: numbers, chain, links, states, in one statement.

use std::collections::{BTreeSet, HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::entry::{Entry, Recorded, WrittenBy, corrected_by};
use domain::ids::EntryId;
use domain::subject::Subject;
use uuid::Uuid;

use super::corrections::{Member, Related, relate};
use super::erase;
use super::hash::{Hash, chain_on};
use super::new_entry::{NewEntry, Quarantine};
use super::sql::{FindBody, FindIds, FindRelated, SetApart};
use super::steps::Steps;
use super::stored;
use super::tally::{self, Times};
use super::together::both;
use super::turn::Turn;
use super::written::write;
use crate::auth::{Right, Who};
use crate::clock::NoRandomness;
use crate::projections::{Changes, KeptStates};

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
pub(super) struct Fresh<'a> {
    pub(super) new: &'a NewEntry,
    pub(super) seq: i64,
    pub(super) chain: Hash,
    pub(super) device_counter: i64,
    pub(super) effective_at: DateTime<Utc>,
    pub(super) quarantine: Option<Quarantine>,
    recorded: Option<Recorded>,
}

/// Adds entries and refreshes every state they change. The turn knows the new head afterwards.
pub(super) async fn add(
    turn: &mut Turn,
    conn: &mut AsyncPgConnection,
    entries: &[&NewEntry],
    sent_at: Option<DateTime<Utc>>,
) -> Result<Vec<Added>, AppendRefused> {
    let operation = turn.who.operation.uuid();
    // Asked in one go: which of them are known, what is known of the device, what is kept of the things they are about.
    let about = about(entries);
    let (found, tally, kept) = {
        let conn = &*conn;
        let found = find_ids(conn, operation, entries);
        let tally = tally::ask(conn, turn, entries);
        let (found, tally, kept) = tokio::join!(biased; found, tally, KeptStates::ask(conn, operation, &about));
        let ((found, tally), kept) = both(both(found, tally), kept)?;
        (found, tally, kept)
    };
    turn.steps.done("look up", 3);
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
    let times = Times::work_out(conn, turn, &unknown, (sent_at, tally)).await?;
    turn.steps.done("times", 0);
    let (fresh, added) = number(turn, entries, &mut known, (&times, &closed));
    if fresh.is_empty() {
        return Ok(added);
    }
    let (links, changes) = changes(conn, operation, &fresh, &awaited).await?;
    turn.steps.done("links", 0);
    let states = changes.fold(conn, operation, kept).await?;
    turn.steps.done("fold", 0);
    let seqs = fresh.iter().map(|told| (told.new.id, told.seq)).collect();
    {
        let conn = &*conn;
        let written = write(turn, conn, &fresh, &links, &states);
        let (written, kept) = tokio::join!(biased; written, times.keep(conn, turn, &seqs));
        both(written, kept)?;
    }
    turn.steps.done("write", 2);
    if times.erasing {
        erase::again(conn, &turn.who, &seqs).await?;
    }
    Ok(added)
}

/// What the entries are about; what corrections are about is known only once what they correct is.
fn about(entries: &[&NewEntry]) -> BTreeSet<Subject> {
    let told = entries.iter().filter_map(|new| new.content.as_ref().ok());
    told.filter(|entry| entry.corrects().is_none())
        .flat_map(Entry::touches)
        .collect()
}

/// Which ids are in the ledger with which hash, and which of them a correction waits for.
async fn find_ids(
    mut conn: &AsyncPgConnection,
    operation: Uuid,
    entries: &[&NewEntry],
) -> Result<Vec<(Uuid, i64, Option<Vec<u8>>)>, diesel::result::Error> {
    let ids: Vec<Uuid> = entries.iter().map(|new| new.id).collect();
    let question = FindIds {
        ids: &ids,
        operation: &operation,
    };
    question.load(&mut conn).await
}

/// Which entries this person may not correct: what only the office writes, only the office takes back. What comes in
/// the same push counts as what is there already.
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
    let groups = relate(members.collect()).into_iter().filter(of_office);
    let members = groups.flat_map(|group| group.members);
    let mut closed: HashSet<Uuid> = members.map(|member| member.id.uuid()).collect();
    let come_now = entries.iter().filter(|new| {
        let content = new.content.as_ref();
        content.is_ok_and(|entry| corrected_by(entry) == WrittenBy::Office)
    });
    closed.extend(come_now.map(|new| new.id));
    // A correction of a correction may stand before what it corrects.
    let mut before = 0;
    while before < closed.len() {
        before = closed.len();
        let led_back = entries
            .iter()
            .filter(|new| new.corrects().is_some_and(|target| closed.contains(&target)));
        let led_back: Vec<Uuid> = led_back.map(|new| new.id).collect();
        closed.extend(led_back);
    }
    Ok(closed)
}

/// Whether only the office takes back what these corrections lead to.
fn of_office(group: &Related) -> bool {
    let mut members = group.members.iter();
    members.any(|member| corrected_by(&member.entry) == WrittenBy::Office)
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
    Steps::asked_besides("links", 1);
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

    pub(super) fn corrects(&self) -> Option<Uuid> {
        self.recorded.as_ref()?.entry.corrects().map(EntryId::uuid)
    }
}

/// Groups entries with their corrections. A correction that came first was counted without knowing whose the entry is:
/// where it is the office's, and the correction is not, it is set apart now, as it would have been had it come later.
async fn without_set_apart(
    conn: &mut AsyncPgConnection,
    members: Vec<Member>,
    fresh: &HashSet<Uuid>,
) -> Result<Vec<Related>, diesel::result::Error> {
    let groups = relate(members);
    // Which entries are the office's is known once the first of them, which corrects nothing, is there.
    let comes_now = |group: &&Related| {
        let mut members = group.members.iter();
        of_office(group) && members.any(|one| one.entry.corrects().is_none() && fresh.contains(&one.id.uuid()))
    };
    let affected = groups.iter().filter(comes_now).flat_map(|group| &group.members);
    let waiting = affected.map(|one| one.id.uuid()).filter(|id| !fresh.contains(id));
    let waiting: Vec<Uuid> = waiting.collect();
    if waiting.is_empty() {
        return Ok(groups);
    }
    let apart: Vec<Uuid> = SetApart { ids: &waiting }.load(conn).await?;
    Steps::asked_besides("links", 1);
    let left = groups.into_iter().flat_map(|group| group.members);
    let left = left.filter(|one| !apart.contains(&one.id.uuid()));
    Ok(relate(left.map(Member::new).collect()))
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
    let now = fresh.iter().map(|told| told.new.id).collect();
    for related in without_set_apart(conn, members, &now).await? {
        for subject in &related.subjects {
            links.extend(related.members.iter().map(|member| (*subject, member.seq)));
            changes.anew(*subject, &related.members);
        }
    }
    Ok((links, changes))
}
