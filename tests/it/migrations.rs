//! Every migration can be taken back exactly, and `schema.rs` names nothing that the database does not have.

use std::collections::BTreeSet;

use anyhow::{Result, anyhow, ensure};
use api::config::Secret;
use api::database::{MIGRATIONS, as_owner, prepare};
use diesel_async::AsyncPgConnection;
use diesel_async::async_connection_wrapper::AsyncConnectionWrapper;
use diesel_migrations::MigrationHarness;
use tests::Database;

/// Everything a migration can make, one line each. The table that counts the migrations stays, empty or not.
const CATALOGUE: &str = "
    with ours as (select oid, nspname from pg_namespace where nspname = 'public')
    select text from (
        select format('relation %s %s rls %s %s acl %s', c.relkind, c.relname, c.relrowsecurity,
                      c.relforcerowsecurity, c.relacl) as text
          from pg_class c join ours on ours.oid = c.relnamespace
        union all
        select format('column %s.%s %s %s %s default %s', c.relname, a.attname, a.attnum,
                      format_type(a.atttypid, a.atttypmod), a.attnotnull, pg_get_expr(d.adbin, d.adrelid))
          from pg_attribute a join pg_class c on c.oid = a.attrelid join ours on ours.oid = c.relnamespace
          left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
         where a.attnum > 0 and not a.attisdropped
        union all
        select format('index %s', indexdef) from pg_indexes where schemaname = 'public'
        union all
        select format('constraint %s on %s %s', conname, conrelid::regclass, pg_get_constraintdef(con.oid))
          from pg_constraint con join ours on ours.oid = con.connamespace
        union all
        select format('function %s acl %s: %s', p.oid::regprocedure, p.proacl, md5(pg_get_functiondef(p.oid)))
          from pg_proc p join ours on ours.oid = p.pronamespace where p.prokind = 'f'
        union all
        select format('policy %s on %s', policyname, tablename) || coalesce(qual, '') || coalesce(with_check, '')
          from pg_policies
        union all
        select format('trigger %s on %s: %s', tgname, tgrelid::regclass, pg_get_triggerdef(oid))
          from pg_trigger where not tgisinternal
        union all
        select format('type %s %s', typname, typtype)
          from pg_type t join ours on ours.oid = t.typnamespace where typtype in ('d', 'e', 'r')
        union all
        select format('extension %s', extname) from pg_extension
        union all
        select format('comment on %s: %s', pg_describe_object(d.classoid, d.objoid, d.objsubid), d.description)
          from pg_description d
          left join pg_class c on d.classoid = 'pg_class'::regclass and c.oid = d.objoid
          left join pg_proc p on d.classoid = 'pg_proc'::regclass and p.oid = d.objoid
         where coalesce(c.relnamespace, p.pronamespace) = 'public'::regnamespace
        union all
        select format('default rights %s %s', defaclobjtype, defaclacl) from pg_default_acl
    ) everything order by 1";

async fn catalogue(database: &Database) -> Result<BTreeSet<String>> {
    let lines = database.texts(CATALOGUE).await?;
    ensure!(
        !lines.is_empty(),
        "the catalogue shows nothing, so nothing was compared"
    );
    Ok(lines.into_iter().collect())
}

/// diesel's harness blocks.
async fn as_migrator<T: Send + 'static>(
    database: &Database,
    work: impl FnOnce(&mut AsyncConnectionWrapper<AsyncPgConnection>) -> Result<T, Box<dyn std::error::Error + Send + Sync>>
    + Send
    + 'static,
) -> Result<T> {
    let conn = as_owner(&Secret::new(database.url())).await?;
    let done = tokio::task::spawn_blocking(move || {
        work(&mut AsyncConnectionWrapper::from(conn)).map_err(|error| anyhow!("{error}"))
    });
    done.await?
}

#[tokio::test(flavor = "multi_thread", worker_threads = 1)]
async fn up_down_up_leaves_no_trace() -> Result<()> {
    let database = Database::empty().await?;
    prepare(&Secret::new(database.url()), true).await?;
    let first = catalogue(&database).await?;
    let count = as_migrator(&database, |conn| Ok(conn.revert_all_migrations(MIGRATIONS)?.len())).await?;
    assert!(count > 0, "there was nothing to take back");
    let left: Vec<String> = catalogue(&database)
        .await?
        .into_iter()
        .filter(|line| !line.contains("__diesel_schema_migrations") && !line.starts_with("default rights"))
        .filter(|line| line != "extension plpgsql")
        .collect();
    assert!(left.is_empty(), "taken back, but still there: {left:#?}");
    as_migrator(&database, |conn| Ok(conn.run_pending_migrations(MIGRATIONS)?.len())).await?;
    let second = catalogue(&database).await?;
    let changed: Vec<_> = first.symmetric_difference(&second).collect();
    assert!(changed.is_empty(), "another schema the second time: {changed:#?}");
    Ok(())
}

#[tokio::test]
async fn the_program_and_the_database_name_the_same_columns() -> Result<()> {
    let database = Database::migrated().await?;
    let there: BTreeSet<String> = database
        .texts("select format('%s.%s', table_name, column_name) as text from information_schema.columns where table_schema = 'public'")
        .await?
        .into_iter()
        .collect();
    let schema = include_str!("../../api/src/schema.rs");
    let (mut table, mut seen) = (String::new(), 0);
    for line in schema.lines().map(str::trim) {
        if let Some((name, _)) = line.split_once(" (").filter(|_| line.ends_with(") {")) {
            name.clone_into(&mut table);
        } else if let Some((column, _)) = line.split_once(" -> ").filter(|_| line.ends_with(',')) {
            seen += 1;
            let name = format!("{table}.{column}");
            assert!(there.contains(&name), "schema.rs has {name}, the database has not");
        }
    }
    assert!(seen > 0, "schema.rs names no column, so nothing was compared");
    Ok(())
}
