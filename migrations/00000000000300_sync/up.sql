-- What the ledger keeps about devices, first downloads and folding anew, so that phones which come late, doubled, with
-- a wrong clock or after a year are told the right thing.

alter table operation_ledger
    -- raised whenever states were made anew, so that phones read all of them again
    add column states_epoch integer not null default 0,
    -- before this no clock of a phone can have ticked for the operation
    add column began_at timestamptz not null default now();
comment on column operation_ledger.states_epoch is 'raised whenever states were made anew, so that phones read all of them again';
comment on column operation_ledger.began_at is 'before this no clock of a phone can have ticked for the operation';

do $$
declare
    o record;
begin
    for o in select id, created_at from operation loop
        perform set_config('app.operation', o.id::text, true);
        update operation_ledger set began_at = o.created_at where operation_id = o.id;
    end loop;
    perform set_config('app.operation', '', true);
end $$;

-- What stands before and after an entry on the device that made it.
create index entry_device_idx on entry (operation_id, device_id, device_counter);

create table device_tally (
    -- whose device it is
    operation_id uuid not null,
    -- which device
    device_id uuid not null,
    -- which of its numbers have arrived
    counted int8multirange not null,
    -- the newest of its numbers that carries a time read off its clock; 0 before the first
    newest bigint not null,
    -- when that happened
    newest_at timestamptz not null,
    -- whether one of its numbers came twice, with different entries
    cloned boolean not null,
    constraint device_tally_pkey primary key (operation_id, device_id)
);
comment on table device_tally is 'tenant: which numbers of a device have arrived; follows from its entries';
comment on column device_tally.operation_id is 'whose device it is';
comment on column device_tally.device_id is 'which device';
comment on column device_tally.counted is 'which of its numbers have arrived';
comment on column device_tally.newest is 'the newest of its numbers that carries a time read off its clock; 0 before the first';
comment on column device_tally.newest_at is 'when that happened';
comment on column device_tally.cloned is 'whether one of its numbers came twice, with different entries';

create table entry_doubt (
    -- whose entry it is
    operation_id uuid not null,
    -- which entry
    seq bigint not null,
    -- what is doubtful about it, a fixed word
    code text not null constraint entry_doubt_code_known check (code in ('clock_suspect', 'device_cloned')),
    -- the other entry of a contradiction
    other_seq bigint,
    constraint entry_doubt_pkey primary key (operation_id, seq, code)
);
comment on table entry_doubt is 'tenant: what was doubtful about an entry when it was accepted; decided once';
comment on column entry_doubt.operation_id is 'whose entry it is';
comment on column entry_doubt.seq is 'which entry';
comment on column entry_doubt.code is 'what is doubtful about it, a fixed word';
comment on column entry_doubt.other_seq is 'the other entry of a contradiction';

create table snapshot_part (
    -- whose states they are
    operation_id uuid not null,
    -- the number of the newest entry they are folded from
    seq bigint not null,
    -- who may read it: everybody, or those who may read customers
    audience text not null constraint snapshot_part_audience_known check (audience in ('everybody', 'customers')),
    -- which part, from 1
    part integer not null constraint snapshot_part_counts check (part > 0),
    -- when it was made
    made_at timestamptz not null,
    -- where to pull from once all parts are there
    cursor text not null,
    -- how many states are in it
    states integer not null,
    -- how many bytes it has unpacked
    size integer not null,
    -- SHA-256 of its unpacked bytes
    sha256 bytea not null constraint snapshot_part_hash_length check (octet_length(sha256) = 32),
    -- JSON, packed with gzip
    packed bytea not null,
    constraint snapshot_part_pkey primary key (operation_id, seq, audience, part)
);
alter table snapshot_part alter packed set storage external;
comment on table snapshot_part is 'tenant: first downloads for new phones, thrown away after a day';
comment on column snapshot_part.operation_id is 'whose states they are';
comment on column snapshot_part.seq is 'the number of the newest entry they are folded from';
comment on column snapshot_part.audience is 'who may read it: everybody, or those who may read customers';
comment on column snapshot_part.part is 'which part, from 1';
comment on column snapshot_part.made_at is 'when it was made';
comment on column snapshot_part.cursor is 'where to pull from once all parts are there';
comment on column snapshot_part.states is 'how many states are in it';
comment on column snapshot_part.size is 'how many bytes it has unpacked';
comment on column snapshot_part.sha256 is 'SHA-256 of its unpacked bytes';
comment on column snapshot_part.packed is 'JSON, packed with gzip';

create table erasure (
    -- whose entry it is
    operation_id uuid not null,
    -- which entry; it may not have arrived (again) yet
    entry_id uuid not null,
    -- who decided it
    member_id uuid not null,
    -- when
    at timestamptz not null,
    -- whether the entry is blank here
    done boolean not null,
    constraint erasure_pkey primary key (operation_id, entry_id)
);
comment on table erasure is 'tenant: entries whose personal text was or is to be blanked';
comment on column erasure.operation_id is 'whose entry it is';
comment on column erasure.entry_id is 'which entry; it may not have arrived (again) yet';
comment on column erasure.member_id is 'who decided it';
comment on column erasure.at is 'when';
comment on column erasure.done is 'whether the entry is blank here';

do $$
declare
    t text;
begin
    foreach t in array array['device_tally', 'entry_doubt', 'snapshot_part', 'erasure'] loop
        execute format('alter table %I enable row level security', t);
        execute format('alter table %I force row level security', t);
        execute format('create policy %I on %I
            using (operation_id = nullif(current_setting(''app.operation'', true), '''')::uuid)
            with check (operation_id = nullif(current_setting(''app.operation'', true), '''')::uuid)',
            t || '_tenant', t);
    end loop;
end $$;

grant select, insert, update on device_tally to yj_app;
grant select, insert on entry_doubt to yj_app;
grant select, insert, delete on snapshot_part to yj_app;
grant select, insert on erasure to yj_app;

-- The heads of some ledgers, for calls that wait until one moves. Numbers only; each operation is opened for its own.
create function ledger_heads(p_operations uuid[]) returns table (operation_id uuid, last_seq bigint)
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
declare
    v_before text := coalesce(current_setting('app.operation', true), '');
begin
    foreach operation_id in array p_operations loop
        perform set_config('app.operation', operation_id::text, true);
        select l.last_seq into last_seq from operation_ledger l where l.operation_id = ledger_heads.operation_id;
        if found then
            return next;
        end if;
    end loop;
    perform set_config('app.operation', v_before, true);
end $$;
revoke all on function ledger_heads(uuid[]) from public;
grant execute on function ledger_heads(uuid[]) to yj_app;

-- Notes that an entry is to be blank, and blanks it if it is here. The one change that an entry knows: the body the
-- caller gives in place of the old one. Works inside the operation that was entered, and nowhere else.
create function entry_erase(p_entry uuid, p_member uuid, p_at timestamptz, p_body text) returns boolean
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
declare
    v_operation uuid := current_operation();
    v_here boolean;
begin
    insert into erasure (operation_id, entry_id, member_id, at, done)
    values (v_operation, p_entry, p_member, p_at, p_body is not null)
    on conflict on constraint erasure_pkey do update set done = erasure.done or excluded.done;
    if p_body is null then
        return false;
    end if;
    update entry set body = p_body where operation_id = v_operation and id = p_entry;
    v_here := found;
    -- States are folded anew by the caller; whoever read the old ones reads all of them again.
    update operation_ledger set states_epoch = states_epoch + 1 where operation_id = v_operation;
    delete from snapshot_part where operation_id = v_operation;
    return v_here;
end $$;
revoke all on function entry_erase(uuid, uuid, timestamptz, text) from public;
grant execute on function entry_erase(uuid, uuid, timestamptz, text) to yj_app;
