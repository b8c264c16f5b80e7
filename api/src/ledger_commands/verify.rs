//! Proving that everything follows from the ledger: numbers, hashes, chain, links and states.

use std::collections::{BTreeMap, HashSet};

use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel::{OptionalExtension, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::grown::joined;
use domain::subject::{Subject, SubjectKind};
use uuid::Uuid;

use super::{CHUNK, CommandRefused, ExtrasRead, Links, Operation, fold, open, operations, subjects, walk};
use crate::config::Secret;
use crate::database;
use crate::ledger::hash::{Hash, chain_begin, chain_on, content_hash};
use crate::ledger::read::erased;
use crate::ledger::{blanked, stored};
use crate::projections::StateRow;

mod report;

pub use report::{Fault, OperationReport, Report};

/// Checks every operation, or one: numbers, hashes, chain, links and states.
///
/// # Errors
/// When there is no such operation or the database refuses. What is wrong with the data is in the report.
pub async fn verify(url: &Secret, only: Option<&str>) -> Result<Report, CommandRefused> {
    verify_after(url, only, 0).await
}

/// The same for what came after a number of the ledger: those entries with their numbers, hashes, chain and links, and
/// every state that they change. What was there before counts as verified.
///
/// # Errors
/// As [`verify`].
pub async fn verify_after(url: &Secret, only: Option<&str>, after: i64) -> Result<Report, CommandRefused> {
    let mut conn = database::as_owner(url).await?;
    let mut reports = Vec::new();
    for operation in operations(&mut conn, only).await? {
        let mut snapshot = conn.build_transaction().repeatable_read().read_only();
        reports.push(
            snapshot
                .run(async |conn| verify_one(conn, operation, after).await)
                .await?,
        );
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
    after: i64,
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
        last: after,
        value: chain_at(conn, id, after).await?,
        erased: erased(conn, id).await?.into_iter().collect(),
    };
    let mut links = walk(conn, id, after, |row, extras, unreadable| {
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
    verify_states(conn, id, after, &links, &mut report).await?;
    links.retain(|(_, seq)| *seq > after);
    verify_links(conn, id, after, &links, &mut report).await?;
    verify_tallies(conn, id, after, &mut report).await?;
    Ok(report)
}

/// The chain after a number.
async fn chain_at(conn: &mut AsyncPgConnection, operation: Uuid, seq: i64) -> Result<Hash, diesel::result::Error> {
    #[derive(QueryableByName)]
    struct At {
        #[diesel(sql_type = Binary)]
        chain: Vec<u8>,
    }
    if seq == 0 {
        return Ok(chain_begin(operation));
    }
    let question = diesel::sql_query("select chain from entry where operation_id = $1 and seq = $2");
    let question = question.bind::<SqlUuid, _>(operation).bind::<BigInt, _>(seq);
    let at = question.get_result::<At>(conn).await.optional()?;
    Ok(at.and_then(|at| Hash::try_from(at.chain).ok()).unwrap_or_default())
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
    after: i64,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question = diesel::sql_query(
        "with told as (
            select device_id, range_agg(int8range(n, n, '[]')) as counted
              from (select device_id, (body::json ->> 'device_counter')::bigint as n from entry
                    where operation_id = $1 and seq > $2) e
             where n is not null group by device_id
         )
         select told.device_id from told
           left join device_tally t on t.operation_id = $1 and t.device_id = told.device_id
          where t.counted is null or not t.counted @> told.counted",
    );
    let question = question.bind::<SqlUuid, _>(operation).bind::<BigInt, _>(after);
    for odd in question.load::<OddTally>(conn).await? {
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
    after: i64,
    links: &Links,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question =
        diesel::sql_query("select kind, subject_id as id, seq from entry_subject where operation_id = $1 and seq > $2");
    let question = question.bind::<SqlUuid, _>(operation).bind::<BigInt, _>(after);
    let kept: Vec<Named> = question.load(conn).await?;
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
    #[diesel(sql_type = Integer)]
    parts: i32,
    #[diesel(sql_type = Array<Text>)]
    past: Vec<String>,
}

async fn verify_states(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
    after: i64,
    links: &Links,
    report: &mut OperationReport,
) -> Result<(), diesel::result::Error> {
    let question = diesel::sql_query(
        "select kind, id, changed_seq as seq from state_row where operation_id = $1 and changed_seq > $2",
    );
    let question = question.bind::<SqlUuid, _>(operation).bind::<BigInt, _>(after);
    let kept: Vec<Named> = question.load(conn).await?;
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
        "select s.kind, s.id, s.changed_seq, s.label, s.status, s.flags, s.state, s.parts,
                array(select p.state from state_part p
                       where p.operation_id = $1 and p.kind = s.kind and p.id = s.id order by p.n) as past
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
    if usize::try_from(kept.parts) != Ok(kept.past.len()) {
        return Some("number of parts");
    }
    // What left it in many parts leaves it in one when it is folded anew.
    let all = joined(&kept.state, kept.past.iter().map(String::as_str));
    if !all.is_ok_and(|all| fresh.whole().is_ok_and(|fresh| fresh == all)) {
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
