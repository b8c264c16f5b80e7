-- A business that the demo made up says so wherever it is shown.

alter table operation add column invented boolean not null default false;
comment on column operation.invented is 'everything in it is made up, as in the demo';

-- Whether the business of this transaction is made up.
create function operation_invented() returns boolean
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$ select invented from operation where id = current_operation() $$;

revoke all on function operation_invented() from public;
grant execute on function operation_invented() to yj_app;
