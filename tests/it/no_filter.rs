//! Queries that forgot their filter: row-level security alone keeps the businesses apart.

use anyhow::Result;
use diesel::QueryableByName;
use diesel::sql_types::{BigInt, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use tests::Service;
use uuid::Uuid;

/// One row for each tenant table that founding a business does not fill; `$op` is the business.
const ROWS: &[(&str, &str)] = &[
    (
        "entry",
        "insert into entry (operation_id, seq, id, kind, v, body, device_id, author_id, device_counter, saw,
                            happened_at, utc_offset_min, effective_at, received_at, content_hash, chain)
         values ('$op', 1, gen_random_uuid(), 'super_placed', 1, '{}', gen_random_uuid(), gen_random_uuid(), 1, 0,
                 now(), 0, now(), now(), sha256(''), sha256(''))",
    ),
    (
        "entry_subject",
        "insert into entry_subject (operation_id, kind, subject_id, seq) values ('$op', 'super', gen_random_uuid(), 1)",
    ),
    (
        "state_row",
        "insert into state_row (operation_id, kind, id, changed_seq, status, flags, state, memo, fold_version)
         values ('$op', 'super', gen_random_uuid(), 1, 'placed', 0, '{}', '{}', 1)",
    ),
    (
        "state_part",
        "insert into state_part (operation_id, kind, id, n, state, memo)
         values ('$op', 'super', gen_random_uuid(), 0, '{}', '{}')",
    ),
    (
        "dead_letter",
        "insert into dead_letter (operation_id, id, received_at, device_id, reason, bytes)
         values ('$op', gen_random_uuid(), now(), gen_random_uuid(), 'id_reused', '{}')",
    ),
    (
        "device_tally",
        "insert into device_tally (operation_id, device_id, counted, newest, newest_at, cloned)
         values ('$op', gen_random_uuid(), '{[1,2)}', 1, now(), false)",
    ),
    (
        "entry_doubt",
        "insert into entry_doubt (operation_id, seq, code) values ('$op', 1, 'clock_suspect')",
    ),
    (
        "snapshot_part",
        "insert into snapshot_part (operation_id, seq, audience, part, made_at, cursor, states, size, sha256, packed)
         values ('$op', 1, 'everybody', 1, now(), '', 0, 2, sha256(''), '')",
    ),
    (
        "erasure",
        "insert into erasure (operation_id, entry_id, member_id, at, done)
         values ('$op', gen_random_uuid(), gen_random_uuid(), now(), false)",
    ),
];

const TENANT_TABLES: &str = "select c.relname::text as text from pg_class c
    where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
      and obj_description(c.oid, 'pg_class') like 'tenant:%' order by 1";

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    all: i64,
    #[diesel(sql_type = BigInt)]
    ours: i64,
}

/// All rows that a bare select shows, and how many of them are this business's.
async fn count(conn: &mut AsyncPgConnection, table: &str, operation: Uuid) -> Result<(i64, i64)> {
    let question =
        format!("select count(*) as all, count(*) filter (where operation_id::text = $1) as ours from {table}");
    let Count { all, ours } = diesel::sql_query(question)
        .bind::<Text, _>(operation.to_string())
        .get_result(conn)
        .await?;
    Ok((all, ours))
}

/// Two businesses with at least one row each in every tenant table, whose names are given.
async fn filled(service: &Service) -> Result<(Uuid, Uuid, Vec<String>)> {
    let (ours, theirs) = (service.operation.id, service.other_operation().await?.id);
    let tables = service.database.texts(TENANT_TABLES).await?;
    assert!(!tables.is_empty(), "there is no tenant table, so nothing is checked");
    let mut conn = service.database.superuser().await?;
    for (table, insert) in ROWS {
        assert!(
            tables.iter().any(|there| there == table),
            "{table} is no tenant table (any more)"
        );
        for operation in [ours, theirs] {
            conn.batch_execute(&insert.replace("$op", &operation.to_string()))
                .await?;
        }
    }
    for table in &tables {
        for operation in [ours, theirs] {
            let (_, of_it) = count(&mut conn, table, operation).await?;
            assert!(of_it > 0, "{table} has no row to hide: add one to ROWS");
        }
    }
    Ok((ours, theirs, tables))
}

#[tokio::test]
async fn outside_an_operation_a_bare_select_shows_nothing() -> Result<()> {
    let service = Service::start().await?;
    let (ours, _, tables) = filled(&service).await?;
    let mut conn = service.database.app().await?;
    for table in &tables {
        assert_eq!(count(&mut conn, table, ours).await?, (0, 0), "{table}");
    }
    // The setting is empty, not absent, once a transaction that had one is over.
    conn.batch_execute(&format!("begin; set local app.operation = '{ours}'; commit"))
        .await?;
    for table in &tables {
        assert_eq!(count(&mut conn, table, ours).await?, (0, 0), "{table}");
    }
    Ok(())
}

#[tokio::test]
async fn inside_an_operation_a_bare_select_shows_its_rows_only() -> Result<()> {
    let service = Service::start().await?;
    let (ours, theirs, tables) = filled(&service).await?;
    let mut conn = service.database.app().await?;
    for operation in [ours, theirs] {
        conn.transaction(async |conn| {
            let set = format!("set local app.operation = '{operation}'");
            conn.batch_execute(&set).await?;
            for table in &tables {
                let (all, of_it) = count(conn, table, operation).await?;
                assert!(all > 0 && all == of_it, "{table}: {all} rows, {of_it} of them its own");
            }
            Ok::<_, anyhow::Error>(())
        })
        .await?;
    }
    Ok(())
}

#[tokio::test]
async fn inside_an_operation_nothing_can_be_written_for_another() -> Result<()> {
    let service = Service::start().await?;
    let (ours, theirs, _) = filled(&service).await?;
    for (table, insert) in ROWS.iter().chain(&[(
        "audit",
        "insert into audit (operation_id, deed) values ('$op', 'tried')",
    )]) {
        let mut conn = service.database.app().await?;
        let tried = format!(
            "begin; set local app.operation = '{ours}'; {}",
            insert.replace("$op", &theirs.to_string())
        );
        let refused = conn.batch_execute(&tried).await;
        let message = refused.err().map(|error| error.to_string()).unwrap_or_default();
        assert!(message.contains("row-level security"), "{table}: {message}");
    }
    Ok(())
}
