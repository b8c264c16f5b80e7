//! Every table is classed by its comment, and what its class promises holds in the catalogue.

use anyhow::Result;
use tests::Database;

const OURS: &str = "with t as (
    select c.oid, c.relname::text as name, c.relrowsecurity, c.relforcerowsecurity, c.relowner,
           split_part(coalesce(obj_description(c.oid, 'pg_class'), ''), ':', 1) as class
      from pg_class c where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
) ";

/// Runs a question whose every answer is a fault.
async fn none(database: &Database, question: &str) -> Result<()> {
    let faults = database.texts(&format!("{OURS}{question}")).await?;
    assert!(faults.is_empty(), "{faults:#?}");
    Ok(())
}

#[tokio::test]
async fn every_table_is_of_a_tenant_of_auth_or_global() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select name as text from t where class not in ('tenant', 'auth', 'global')",
    )
    .await?;
    for class in ["tenant", "auth", "global"] {
        let question = format!("{OURS}select name as text from t where class = '{class}'");
        assert!(
            !database.texts(&question).await?.is_empty(),
            "no table is {class}, so nothing is checked"
        );
    }
    none(
        &database,
        "select name as text from t where relowner <> 'yj_owner'::regrole",
    )
    .await
}

#[tokio::test]
async fn every_column_has_a_comment() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select format('%s.%s', name, attname) as text from t join pg_attribute a on a.attrelid = t.oid
          where attnum > 0 and not attisdropped and coalesce(col_description(t.oid, attnum), '') = ''
            and name <> '__diesel_schema_migrations'",
    )
    .await
}

#[tokio::test]
async fn keys_of_tenant_tables_begin_with_the_operation() -> Result<()> {
    let database = Database::migrated().await?;
    let with_key = "select name as text from t where class = 'tenant' and not exists
        (select from pg_constraint where conrelid = t.oid and contype = 'p')";
    none(&database, with_key).await?;
    none(
        &database,
        "select format('%s: %s', name, conname) as text from t join pg_constraint c on c.conrelid = t.oid
          where class = 'tenant' and contype in ('p', 'u', 'f') and conkey[1] is distinct from
                (select attnum from pg_attribute where attrelid = t.oid and attname = 'operation_id')",
    )
    .await?;
    none(
        &database,
        "select format('%s: %s', name, indexrelid::regclass) as text from t join pg_index i on i.indrelid = t.oid
          where class = 'tenant' and indisunique and indkey[0] is distinct from
                (select attnum from pg_attribute where attrelid = t.oid and attname = 'operation_id')",
    )
    .await
}

#[tokio::test]
async fn tenant_tables_are_held_by_one_policy_that_reads_as_it_writes() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select name as text from t where class = 'tenant' and not (relrowsecurity and relforcerowsecurity)",
    )
    .await?;
    none(
        &database,
        "select name as text from t where class = 'tenant' and 1 <> (select count(*) from pg_policy p
          where p.polrelid = t.oid and polpermissive and polcmd = '*' and polroles = '{0}'
            and pg_get_expr(polqual, polrelid) = pg_get_expr(polwithcheck, polrelid)
            and pg_get_expr(polqual, polrelid) =
                '(operation_id = (NULLIF(current_setting(''app.operation''::text, true), ''''::text))::uuid)')",
    )
    .await?;
    none(
        &database,
        "select name as text from t where class = 'tenant' and 1 <> (select count(*) from pg_policy where polrelid = t.oid)",
    )
    .await
}

#[tokio::test]
async fn the_role_of_the_service_is_held_by_everything() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select rolname::text as text from pg_roles where rolname in ('yj_app', 'yj_owner')
            and (rolsuper or rolbypassrls or rolcanlogin or rolcreatedb or rolcreaterole)",
    )
    .await?;
    none(
        &database,
        "select format('%s: %s', name, p) as text from t, unnest(array['update', 'delete', 'truncate']) p
          where name in ('entry', 'audit') and has_table_privilege('yj_app', oid, p)",
    )
    .await?;
    none(
        &database,
        "select format('%s: update of a column', name) as text from t
          where name in ('entry', 'audit') and has_any_column_privilege('yj_app', oid, 'update')",
    )
    .await?;
    none(
        &database,
        "select format('%s: %s', name, p) as text from t,
                unnest(array['select', 'insert', 'update', 'delete', 'truncate', 'references', 'trigger']) p
          where (class = 'auth' or (class = 'global' and p <> 'select')) and has_table_privilege('yj_app', oid, p)",
    )
    .await?;
    none(
        &database,
        "select format('%s: %s of a column', name, p) as text from t,
                unnest(array['select', 'insert', 'update', 'references']) p
          where class = 'auth' and has_any_column_privilege('yj_app', oid, p)",
    )
    .await?;
    none(
        &database,
        "select format('%s: %s', name, p) as text from t, unnest(array['truncate', 'references', 'trigger']) p
          where has_table_privilege('yj_app', oid, p)",
    )
    .await
}

#[tokio::test]
async fn entry_and_audit_are_there_to_be_protected() -> Result<()> {
    let database = Database::migrated().await?;
    let found = database
        .texts(&format!(
            "{OURS}select name as text from t where name in ('entry', 'audit')"
        ))
        .await?;
    assert_eq!(found.len(), 2, "{found:?}");
    Ok(())
}

#[tokio::test]
async fn functions_that_work_as_the_owner_cannot_be_led_astray() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select oid::regprocedure::text as text from pg_proc
          where pronamespace = 'public'::regnamespace
            and not coalesce('search_path=pg_catalog, public, pg_temp' = any (proconfig), false)",
    )
    .await?;
    none(
        &database,
        "select oid::regprocedure::text as text from pg_proc
          where pronamespace = 'public'::regnamespace and (proowner <> 'yj_owner'::regrole or proacl is null or exists
                (select from aclexplode(proacl) where grantee = 0))",
    )
    .await
}

#[tokio::test]
async fn every_foreign_key_has_an_index() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select format('%s: %s', name, conname) as text from t join pg_constraint c on c.conrelid = t.oid
          where contype = 'f' and not exists (select from pg_index i where i.indrelid = t.oid and indpred is null
                and (select array_agg(k order by k) from unnest((i.indkey::int2[])[0:cardinality(conkey) - 1]) k)
                  = (select array_agg(k order by k) from unnest(conkey) k))",
    )
    .await
}

#[tokio::test]
async fn every_constraint_was_given_its_name() -> Result<()> {
    let database = Database::migrated().await?;
    none(
        &database,
        "select format('%s: %s', name, conname) as text from t join pg_constraint c on c.conrelid = t.oid
          where conname ~ '(_check[0-9]*|_(key|fkey|pkey|excl|not_null)[0-9]+)$' and contype <> 'n'",
    )
    .await
}
