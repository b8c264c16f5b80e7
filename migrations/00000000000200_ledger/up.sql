-- The ledger: what happened, numbered without gaps per operation, and the states that follow from it.
-- entry_subject and state_row follow from entry alone; `yardjar rebuild` makes them anew and `yardjar verify`
-- compares. They have no foreign keys on purpose: a check a row would cost more than the insert itself.

create table operation_ledger (
    -- whose ledger it is
    operation_id uuid constraint operation_ledger_pkey primary key
        constraint operation_ledger_operation_fkey references operation (id),
    -- the number of the newest entry; 0 before the first
    last_seq bigint not null default 0 constraint operation_ledger_last_seq_counts check (last_seq >= 0),
    -- SHA-256 over the chain before, the id and the content hash of the newest entry
    chain bytea not null constraint operation_ledger_chain_length check (octet_length(chain) = 32),
    -- when the newest entry arrived; the next is never given an earlier time
    last_received_at timestamptz not null default now()
);
comment on table operation_ledger is 'tenant: the counter of an operation; its row lock is the turn to write';
comment on column operation_ledger.operation_id is 'whose ledger it is';
comment on column operation_ledger.last_seq is 'the number of the newest entry; 0 before the first';
comment on column operation_ledger.chain is 'SHA-256 over the chain before, the id and the content hash of the newest entry';
comment on column operation_ledger.last_received_at is 'when the newest entry arrived; the next is never given an earlier time';

create table entry (
    -- whose ledger it stands in
    operation_id uuid not null,
    -- its number, without gaps
    seq bigint not null constraint entry_seq_counts check (seq > 0),
    -- its identity, made by the device
    id uuid not null,
    -- what happened, as the device calls it
    kind text collate "C" not null,
    -- the version of the kind
    v integer not null,
    -- the whole entry exactly as received
    body text not null constraint entry_body_size check (octet_length(body) <= 65536),
    -- the device that brought it
    device_id uuid not null,
    -- who made it
    author_id uuid not null,
    -- its number on the device; that of the ledger where the device does not count
    device_counter bigint not null,
    -- the ledger number the device was at
    saw bigint not null,
    -- when it happened by the device's word
    happened_at timestamptz not null,
    -- minutes east of UTC where it happened
    utc_offset_min smallint not null,
    -- when it happened, after a wrong clock was set right; decided once
    effective_at timestamptz not null,
    -- when it arrived
    received_at timestamptz not null,
    -- SHA-256 of the canonical form of the body
    content_hash bytea not null,
    -- SHA-256 over the chain before, the id and the content hash
    chain bytea not null,
    -- the earlier entry it corrects or withdraws; absent while quarantined
    corrects uuid,
    -- why it is kept but not counted
    quarantine text constraint entry_quarantine_known
        check (quarantine in ('unknown_kind', 'unknown_version', 'not_your_role', 'device_left')),
    constraint entry_pkey primary key (operation_id, seq),
    constraint entry_id_key unique (operation_id, id)
);
create index entry_corrects_idx on entry (operation_id, corrects) where corrects is not null;
create index entry_quarantine_idx on entry (operation_id, seq) where quarantine is not null;
comment on table entry is 'tenant: what happened, once written and never changed';
comment on column entry.operation_id is 'whose ledger it stands in';
comment on column entry.seq is 'its number, without gaps';
comment on column entry.id is 'its identity, made by the device';
comment on column entry.kind is 'what happened, as the device calls it';
comment on column entry.v is 'the version of the kind';
comment on column entry.body is 'the whole entry exactly as received';
comment on column entry.device_id is 'the device that brought it';
comment on column entry.author_id is 'who made it';
comment on column entry.device_counter is 'its number on the device; that of the ledger where the device does not count';
comment on column entry.saw is 'the ledger number the device was at';
comment on column entry.happened_at is 'when it happened by the device''s word';
comment on column entry.utc_offset_min is 'minutes east of UTC where it happened';
comment on column entry.effective_at is 'when it happened, after a wrong clock was set right; decided once';
comment on column entry.received_at is 'when it arrived';
comment on column entry.content_hash is 'SHA-256 of the canonical form of the body';
comment on column entry.chain is 'SHA-256 over the chain before, the id and the content hash';
comment on column entry.corrects is 'the earlier entry it corrects or withdraws; absent while quarantined';
comment on column entry.quarantine is 'why it is kept but not counted';

create table entry_subject (
    -- whose ledger it is
    operation_id uuid not null,
    -- what kind of thing
    kind text collate "C" not null,
    -- which one
    subject_id uuid not null,
    -- the entry that changes its state
    seq bigint not null,
    constraint entry_subject_pkey primary key (operation_id, kind, subject_id, seq)
);
comment on table entry_subject is 'tenant: which entries a state is folded from';
comment on column entry_subject.operation_id is 'whose ledger it is';
comment on column entry_subject.kind is 'what kind of thing';
comment on column entry_subject.subject_id is 'which one';
comment on column entry_subject.seq is 'the entry that changes its state';

create table state_row (
    -- whose thing it is
    operation_id uuid not null,
    -- what kind of thing
    kind text collate "C" not null,
    -- which one
    id uuid not null,
    -- the number of the newest entry it is folded from
    changed_seq bigint not null,
    -- what people call it
    label text,
    -- its state in one word
    status text not null,
    -- how many flags it carries
    flags integer not null,
    -- the state as shown, JSON
    state text not null,
    -- what the fold needs to go on, JSON
    memo text not null,
    -- the version of the rules it was folded by
    fold_version integer not null,
    constraint state_row_pkey primary key (operation_id, kind, id)
);
create index state_row_changed_idx on state_row (operation_id, changed_seq);
comment on table state_row is 'tenant: the state of each thing, folded from its entries';
comment on column state_row.operation_id is 'whose thing it is';
comment on column state_row.kind is 'what kind of thing';
comment on column state_row.id is 'which one';
comment on column state_row.changed_seq is 'the number of the newest entry it is folded from';
comment on column state_row.label is 'what people call it';
comment on column state_row.status is 'its state in one word';
comment on column state_row.flags is 'how many flags it carries';
comment on column state_row.state is 'the state as shown, JSON';
comment on column state_row.memo is 'what the fold needs to go on, JSON';
comment on column state_row.fold_version is 'the version of the rules it was folded by';

-- States are rewritten with every push; the usual compression of long texts costs a quarter of the whole write.
-- A server that was built without lz4 keeps the usual one.
do $$
begin
    alter table entry alter body set compression lz4;
    alter table state_row alter state set compression lz4, alter memo set compression lz4;
exception when feature_not_supported then
    null;
end $$;

create table dead_letter (
    -- whose device sent it
    operation_id uuid not null,
    -- made here, sorts by arrival
    id uuid not null,
    -- when it arrived
    received_at timestamptz not null,
    -- the device that sent it
    device_id uuid not null,
    -- why it was refused, a fixed word
    reason text not null,
    -- what was sent, cut at 64 KiB
    bytes text not null constraint dead_letter_size check (octet_length(bytes) <= 65536),
    constraint dead_letter_pkey primary key (operation_id, id)
);
comment on table dead_letter is 'tenant: entries that were refused, the newest thousand';
comment on column dead_letter.operation_id is 'whose device sent it';
comment on column dead_letter.id is 'made here, sorts by arrival';
comment on column dead_letter.received_at is 'when it arrived';
comment on column dead_letter.device_id is 'the device that sent it';
comment on column dead_letter.reason is 'why it was refused, a fixed word';
comment on column dead_letter.bytes is 'what was sent, cut at 64 KiB';

do $$
declare
    t text;
begin
    foreach t in array array['operation_ledger', 'entry', 'entry_subject', 'state_row', 'dead_letter'] loop
        execute format('alter table %I enable row level security', t);
        execute format('alter table %I force row level security', t);
        execute format('create policy %I on %I
            using (operation_id = nullif(current_setting(''app.operation'', true), '''')::uuid)
            with check (operation_id = nullif(current_setting(''app.operation'', true), '''')::uuid)',
            t || '_tenant', t);
    end loop;
end $$;

grant select, update on operation_ledger to yj_app;
grant select, insert on entry to yj_app;
grant select, insert on entry_subject to yj_app;
grant select, insert, update on state_row to yj_app;
grant select, insert, delete on dead_letter to yj_app;

-- A founded operation has an empty ledger. The operation is opened only for this one insert.
create function operation_ledger_begin() returns trigger
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
declare
    v_before text := coalesce(current_setting('app.operation', true), '');
begin
    perform set_config('app.operation', new.id::text, true);
    insert into operation_ledger (operation_id, chain) values (new.id, sha256(uuid_send(new.id)));
    perform set_config('app.operation', v_before, true);
    return null;
end $$;
create trigger operation_ledger_begin after insert on operation
    for each row execute function operation_ledger_begin();

do $$
declare
    v_id uuid;
begin
    for v_id in select id from operation loop
        perform set_config('app.operation', v_id::text, true);
        insert into operation_ledger (operation_id, chain) values (v_id, sha256(uuid_send(v_id)));
    end loop;
    perform set_config('app.operation', '', true);
end $$;

create table server (
    -- made once for this database
    id uuid constraint server_pkey primary key
);
comment on table server is 'global: the identity of this database, one row';
comment on column server.id is 'made once for this database';
insert into server (id) values (gen_random_uuid());
grant select on server to yj_app;

-- By which identity devices know this database.
create function ledger_server_id() returns uuid
    language sql stable
    set search_path = pg_catalog, public, pg_temp
as $$ select id from server $$;
revoke all on function ledger_server_id() from public;
grant execute on function ledger_server_id() to yj_app;
