//! Proving that everything follows from the ledger: numbers, hashes, chain, links and states.

use std::collections::{BTreeMap, HashSet};
use std::fmt::Write as _;

use diesel::QueryableByName;
use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::subject::{Subject, SubjectKind};
use serde::Serialize;
use uuid::Uuid;

use super::{CHUNK, CommandRefused, ExtrasRead, Links, Operation, fold, open, operations, subjects, walk};
use crate::config::Secret;
use crate::database;
use crate::ledger::hash::{Hash, chain_begin, chain_on, content_hash};
use crate::ledger::read::erased;
use crate::ledger::{blanked, stored};
use crate::projections::StateRow;

/// Faults that are named; a broken ledger would fill the screen.
const NAMED_MAX: usize = 100;

/// Something that does not follow from the ledger, or is wrong in it.
#[derive(Debug, Serialize)]
pub struct Fault {
    /// What, a fixed word.
    pub what: &'static str,
    /// Where: an entry's number or a thing.
    pub at: String,
    /// In a sentence.
    pub detail: String,
}

/// What was found in one operation.
#[derive(Debug, Serialize)]
pub struct OperationReport {
    /// Which.
    pub operation_id: Uuid,
    /// What it is called.
    pub name: String,
    /// How many entries it has.
    pub entries: i64,
    /// How many states.
    pub states: i64,
    /// How many faults in all.
    pub faults_total: usize,
    /// The first of them.
    pub faults: Vec<Fault>,
}

impl OperationReport {
    fn fault(&mut self, what: &'static str, at: impl ToString, detail: impl Into<String>) {
        self.faults_total += 1;
        if self.faults.len() < NAMED_MAX {
            self.faults.push(Fault {
                what,
                at: at.to_string(),
                detail: detail.into(),
            });
        }
    }
}

/// What was found.
#[derive(Debug, Serialize)]
pub struct Report {
    /// One an operation.
    pub operations: Vec<OperationReport>,
}

impl Report {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.operations.iter().all(|report| report.faults_total == 0)
    }

    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        for report in &self.operations {
            let found = match report.faults_total {
                0 => "sound".to_owned(),
                n => format!("{n} faults"),
            };
            let _ = writeln!(
                out,
                "{} ({}): {} entries, {} states: {found}",
                report.name, report.operation_id, report.entries, report.states
            );
            for fault in &report.faults {
                let _ = writeln!(out, "  {} at {}: {}", fault.what, fault.at, fault.detail);
            }
        }
        out
    }

    /// For programs.
    ///
    /// # Errors
    /// When it cannot be written, which would be a fault of ours.
    pub fn json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }
}

/// Checks every operation, or one: numbers, hashes, chain, links and states.
///
/// # Errors
/// When there is no such operation or the database refuses. What is wrong with the data is in the report.
pub async fn verify(url: &Secret, only: Option<&str>) -> Result<Report, CommandRefused> {
    let mut conn = database::as_owner(url).await?;
    let mut reports = Vec::new();
    for operation in operations(&mut conn, only).await? {
        let mut snapshot = conn.build_transaction().repeatable_read().read_only();
        reports.push(snapshot.run(async |conn| verify_one(conn, operation).await).await?);
    }
    Ok(Report { operations: reports })
}

#[derive(QueryableByName)]
struct Counter {
    #[diesel(sql_type = BigInt)]
    last_seq: i64,
    #[diesel(sql_type = Binary)]
    chain: Vec<u8>,
}

async fn verify_one(
    conn: &mut AsyncPgConnection,
    operation: Operation,
) -> Result<OperationReport, diesel::result::Error> {
    let id = operation.id;
    open(conn, id).await?;
    let question = diesel::sql_query("select last_seq, chain from operation_ledger where operation_id = $1");
    let counter: Counter = question.bind::<SqlUuid, _>(id).get_result(conn).await?;
    let mut report = OperationReport {
        operation_id: id,
        name: operation.name,
        entries: 0,
        states: 0,
        faults_total: 0,
        faults: Vec::new(),
    };
    let mut chain = Chain {
        last: 0,
        value: chain_begin(id),
        erased: erased(conn, id).await?.into_iter().collect(),
    };
    let links = walk(conn, id, |row, extras, unreadable| {
        report.entries += 1;
        chain.check(&mut report, row, extras);
        if let Some(error) = unreadable {
            report.fault("unreadable", row.0, error.to_string());
        }
    })
    .await?;
    if chain.last != counter.last_seq {
        report.fault(
            "head",
            counter.last_seq,
            format!("the newest entry has the number {}", chain.last),
        );
    }
    if chain.value[..] != counter.chain {
        report.fault("head", counter.last_seq, "the chain ends otherwise");
    }
    verify_links(conn, id, &links, &mut report).await?;
    verify_states(conn, id, &links, &mut report).await?;
    verify_tallies(conn, id, &mut report).await?;
    Ok(report)
}

#[derive(QueryableByName)]
struct OddTally {
    #[diesel(sql_type = SqlUuid)]
    device_id: Uuid,
}

/// What is noted of each device's numbers holds at least those of its entries; refused ones are noted besides.
async fn verify_tallies(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question = diesel::sql_query(
        "with told as (
            select device_id, range_agg(int8range(n, n, '[]')) as counted
              from (select device_id, (body::json ->> 'device_counter')::bigint as n from entry where operation_id = $1) e
             where n is not null group by device_id
         )
         select told.device_id from told
           left join device_tally t on t.operation_id = $1 and t.device_id = told.device_id
          where t.counted is null or not t.counted @> told.counted",
    );
    for odd in question.bind::<SqlUuid, _>(operation).load::<OddTally>(conn).await? {
        report.fault(
            "tally",
            odd.device_id,
            "numbers of its entries are not noted as arrived",
        );
    }
    Ok(())
}

/// The chain as it should be.
struct Chain {
    last: i64,
    value: Hash,
    /// Entries whose bodies were blanked on purpose.
    erased: HashSet<Uuid>,
}

impl Chain {
    fn check(&mut self, report: &mut OperationReport, row: &stored::Row, extras: &ExtrasRead) {
        let (seq, id, body) = (row.0, row.1, &row.4);
        let (kept_hash, kept_chain, corrects, quarantine) = extras;
        if seq != self.last + 1 {
            report.fault("gap", seq, format!("the number before it is {}", self.last));
        }
        let hash = content_hash(body);
        if self.erased.contains(&id) {
            if blanked(&row.2, row.3, body).as_ref() != Some(body) {
                report.fault("erased", seq, format!("entry {id} was erased and is not blank"));
            }
        } else if hash.as_ref().ok().map(|hash| &hash[..]) != Some(&kept_hash[..]) {
            report.fault(
                "content_hash",
                seq,
                format!("the body of entry {id} is not what was taken in"),
            );
        }
        let kept = Hash::try_from(&kept_hash[..]).unwrap_or_default();
        self.value = chain_on(&self.value, id, &kept);
        if self.value[..] != kept_chain[..] {
            report.fault("chain", seq, format!("the chain breaks at entry {id}"));
            // One break is named once, not again at every entry behind it.
            self.value = Hash::try_from(&kept_chain[..]).unwrap_or_default();
        }
        let told = stored::recorded(row)
            .ok()
            .and_then(|recorded| recorded.entry.corrects());
        if quarantine.is_none() && told.map(domain::ids::EntryId::uuid) != *corrects {
            report.fault("corrects", seq, "what it corrects is not noted beside it");
        }
        self.last = seq;
    }
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = BigInt)]
    seq: i64,
}

impl Named {
    fn subject(&self) -> Option<Subject> {
        Some(Subject {
            kind: SubjectKind::named(&self.kind)?,
            id: self.id,
        })
    }
}

async fn verify_links(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    links: &Links,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question = diesel::sql_query("select kind, subject_id as id, seq from entry_subject where operation_id = $1");
    let kept: Vec<Named> = question.bind::<SqlUuid, _>(operation).load(conn).await?;
    let mut found = Links::new();
    for link in &kept {
        match link.subject().filter(|subject| links.contains(&(*subject, link.seq))) {
            Some(subject) => drop(found.insert((subject, link.seq))),
            None => report.fault(
                "link",
                format!("{} {}", link.kind, link.id),
                format!("entry {} is not about it", link.seq),
            ),
        }
    }
    for (subject, seq) in links.difference(&found) {
        report.fault("link", subject, format!("entry {seq} is about it and not linked to it"));
    }
    Ok(())
}

#[derive(QueryableByName)]
struct KeptState {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = BigInt)]
    changed_seq: i64,
    #[diesel(sql_type = Nullable<Text>)]
    label: Option<String>,
    #[diesel(sql_type = Text)]
    status: String,
    #[diesel(sql_type = Integer)]
    flags: i32,
    #[diesel(sql_type = Text)]
    state: String,
}

async fn verify_states(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    links: &Links,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question = diesel::sql_query("select kind, id, changed_seq as seq from state_row where operation_id = $1");
    let kept: Vec<Named> = question.bind::<SqlUuid, _>(operation).load(conn).await?;
    report.states = i64::try_from(kept.len()).unwrap_or(i64::MAX);
    let about = subjects(links);
    let known: HashSet<Subject> = about.iter().copied().collect();
    for row in kept
        .iter()
        .filter(|row| row.subject().is_none_or(|subject| !known.contains(&subject)))
    {
        report.fault("state", format!("{} {}", row.kind, row.id), "no entry is about it");
    }
    for subjects in about.chunks(CHUNK) {
        let fresh = fold(conn, operation, subjects).await?;
        let mut kept = kept_states(conn, operation, subjects).await?;
        for row in &fresh {
            match kept.remove(&row.subject) {
                None => report.fault("state", row.subject, "it is missing"),
                Some(kept) => {
                    if let Some(difference) = difference(row, &kept) {
                        report.fault(
                            "state",
                            row.subject,
                            format!("its {difference} does not follow from its entries"),
                        );
                    }
                }
            }
        }
    }
    Ok(())
}

async fn kept_states(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    subjects: &[Subject],
) -> Result<BTreeMap<Subject, KeptState>, diesel::result::Error> {
    let question = diesel::sql_query(
        "select s.kind, s.id, s.changed_seq, s.label, s.status, s.flags, s.state
           from unnest($2, $3) as k(kind, id)
           join state_row s on s.operation_id = $1 and s.kind = k.kind and s.id = k.id",
    );
    let (kinds, ids): (Vec<&str>, Vec<Uuid>) = subjects.iter().map(|subject| (subject.kind.name(), subject.id)).unzip();
    let rows: Vec<KeptState> = question
        .bind::<SqlUuid, _>(operation)
        .bind::<Array<Text>, _>(kinds)
        .bind::<Array<SqlUuid>, _>(ids)
        .load(conn)
        .await?;
    let named = |row: KeptState| {
        Some((
            Subject {
                kind: SubjectKind::named(&row.kind)?,
                id: row.id,
            },
            row,
        ))
    };
    Ok(rows.into_iter().filter_map(named).collect())
}

fn difference(fresh: &StateRow, kept: &KeptState) -> Option<&'static str> {
    if fresh.state != kept.state {
        return Some("state");
    }
    if fresh.changed_seq != kept.changed_seq {
        return Some("changed_seq");
    }
    if fresh.label != kept.label {
        return Some("label");
    }
    if fresh.status != kept.status {
        return Some("status");
    }
    (fresh.flags != kept.flags).then_some("number of flags")
}
