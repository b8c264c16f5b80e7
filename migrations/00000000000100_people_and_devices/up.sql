-- People, devices and sessions. These are auth tables: the service's role has no right on them and reaches
-- them only through the functions below, which run as the owner. The one tenant table here is audit.
-- Every function pins its search_path and names pg_temp last, so that a temporary table cannot stand in.

comment on table __diesel_schema_migrations is 'global: which migrations ran';
grant select on __diesel_schema_migrations to yj_app;

create table operation (
    -- who owns the honey; every tenant table begins with this
    id uuid constraint operation_pkey primary key,
    -- what the business is called
    name text not null constraint operation_name_length check (char_length(name) between 1 and 120),
    -- when it was founded here
    created_at timestamptz not null default now()
);
comment on table operation is 'auth: one beekeeping business';
comment on column operation.id is 'who owns the honey; every tenant table begins with this';
comment on column operation.name is 'what the business is called';
comment on column operation.created_at is 'when it was founded here';

create table member (
    -- the business this person works for
    operation_id uuid not null constraint member_operation_fkey references operation (id),
    -- made by whoever entered the person
    id uuid not null,
    -- how the person is called
    name text not null constraint member_name_length check (char_length(name) between 1 and 120),
    -- what is typed at sign-in, lower case; absent for people who only use an enrolled phone
    login text constraint member_login_key unique
        constraint member_login_form check (login = lower(login) and char_length(login) between 3 and 64),
    -- what the person may do
    role text not null constraint member_role_known check (role in ('owner', 'office', 'field', 'viewer')),
    -- argon2id in PHC form; absent when there is no password
    password_hash text,
    -- raised to end every access token and session of this person at once
    epoch integer not null default 1,
    -- pending until the first enrolment or password; only an active member has rights
    state text not null constraint member_state_known check (state in ('active', 'pending', 'left')),
    -- raised by each change, for If-Match
    version integer not null default 1,
    -- when the person was entered
    created_at timestamptz not null default now(),
    constraint member_pkey primary key (operation_id, id)
);
comment on table member is 'auth: a person who works for an operation';
comment on column member.operation_id is 'the business this person works for';
comment on column member.id is 'made by whoever entered the person';
comment on column member.name is 'how the person is called';
comment on column member.login is 'what is typed at sign-in, lower case; absent for people who only use an enrolled phone';
comment on column member.role is 'what the person may do';
comment on column member.password_hash is 'argon2id in PHC form; absent when there is no password';
comment on column member.epoch is 'raised to end every access token and session of this person at once';
comment on column member.state is 'pending until the first enrolment or password; only an active member has rights';
comment on column member.version is 'raised by each change, for If-Match';
comment on column member.created_at is 'when the person was entered';

create table device (
    -- the business it writes for
    operation_id uuid not null constraint device_operation_fkey references operation (id),
    -- made by the service at enrolment
    id uuid not null,
    -- who carries it
    member_id uuid not null,
    -- how the person calls it
    name text not null constraint device_name_length check (char_length(name) between 1 and 80),
    -- what it is
    kind text not null constraint device_kind_known check (kind in ('phone', 'browser', 'program', 'console')),
    -- left: may still push for 30 days; lost: nothing
    state text not null default 'active' constraint device_state_known check (state in ('active', 'left', 'lost')),
    -- SHA-256 of the 256-bit device secret
    secret_hash bytea not null,
    -- when it was enrolled
    enrolled_at timestamptz not null default now(),
    -- when it was revoked
    left_at timestamptz,
    constraint device_pkey primary key (operation_id, id),
    constraint device_member_fkey foreign key (operation_id, member_id) references member (operation_id, id),
    constraint device_left_when_not_active check ((state = 'active') = (left_at is null))
);
create index device_member_idx on device (operation_id, member_id);
comment on table device is 'auth: a phone, a browser or another program that writes entries';
comment on column device.operation_id is 'the business it writes for';
comment on column device.id is 'made by the service at enrolment';
comment on column device.member_id is 'who carries it';
comment on column device.name is 'how the person calls it';
comment on column device.kind is 'what it is';
comment on column device.state is 'left: may still push for 30 days; lost: nothing';
comment on column device.secret_hash is 'SHA-256 of the 256-bit device secret';
comment on column device.enrolled_at is 'when it was enrolled';
comment on column device.left_at is 'when it was revoked';

create table session (
    -- carried by the access token
    sid uuid constraint session_pkey primary key,
    -- the business signed in to
    operation_id uuid not null constraint session_operation_fkey references operation (id),
    -- who signed in
    member_id uuid not null,
    -- on which device
    device_id uuid not null,
    -- the member's epoch at sign-in
    epoch integer not null,
    -- mixed into every refresh token of this session
    salt bytea not null,
    -- counts the refresh tokens; the current one has this number
    generation integer not null default 1,
    -- SHA-256 of the current refresh token, which is unused by construction: using it makes the next
    current_hash bytea not null,
    -- SHA-256 of the one before, good for a retry whose answer was lost
    previous_hash bytea,
    -- slides 400 days with each refresh
    expires_at timestamptz not null,
    -- never slides: 800 days after sign-in
    ends_at timestamptz not null,
    -- signed out, revoked or stolen
    ended_at timestamptz,
    -- when the password was last given; absent on phones
    confirmed_at timestamptz,
    -- when the sign-in happened
    created_at timestamptz not null default now(),
    -- when it last got a token: the device was heard then
    heard_at timestamptz not null default now(),
    constraint session_member_fkey foreign key (operation_id, member_id) references member (operation_id, id),
    constraint session_device_fkey foreign key (operation_id, device_id) references device (operation_id, id)
);
create index session_member_idx on session (operation_id, member_id);
create index session_device_idx on session (operation_id, device_id);
comment on table session is 'auth: one sign-in of one device';
comment on column session.sid is 'carried by the access token';
comment on column session.operation_id is 'the business signed in to';
comment on column session.member_id is 'who signed in';
comment on column session.device_id is 'on which device';
comment on column session.epoch is 'the member''s epoch at sign-in';
comment on column session.salt is 'mixed into every refresh token of this session';
comment on column session.generation is 'counts the refresh tokens; the current one has this number';
comment on column session.current_hash is 'SHA-256 of the current refresh token, unused by construction: using it makes the next';
comment on column session.previous_hash is 'SHA-256 of the one before, good for a retry whose answer was lost';
comment on column session.expires_at is 'slides 400 days with each refresh';
comment on column session.ends_at is 'never slides: 800 days after sign-in';
comment on column session.ended_at is 'signed out, revoked or stolen';
comment on column session.confirmed_at is 'when the password was last given; absent on phones';
comment on column session.created_at is 'when the sign-in happened';
comment on column session.heard_at is 'when it last got a token: the device was heard then';

create table enrolment_code (
    -- made by the service
    id uuid constraint enrolment_code_pkey primary key,
    -- the four characters that find it
    lookup text not null constraint enrolment_code_lookup_key unique,
    -- argon2id of the ten characters that prove it
    secret_hash text not null,
    -- SHA-256 of the longer secret inside the QR code
    qr_hash bytea not null,
    -- the business to enrol into
    operation_id uuid not null constraint enrolment_code_operation_fkey references operation (id),
    -- who will carry the device
    member_id uuid not null,
    -- how the office calls the device
    device_name text not null
        constraint enrolment_code_device_name_length check (char_length(device_name) between 1 and 80),
    -- ten minutes after it was made
    expires_at timestamptz not null,
    -- each attempt takes one before the secret is looked at
    tries_left integer not null default 5 constraint enrolment_code_tries check (tries_left >= 0),
    -- a code works once
    used_at timestamptz,
    constraint enrolment_code_member_fkey foreign key (operation_id, member_id) references member (operation_id, id)
);
create index enrolment_code_member_idx on enrolment_code (operation_id, member_id);
comment on table enrolment_code is 'auth: a one-use code by which a phone joins';
comment on column enrolment_code.id is 'made by the service';
comment on column enrolment_code.lookup is 'the four characters that find it';
comment on column enrolment_code.secret_hash is 'argon2id of the ten characters that prove it';
comment on column enrolment_code.qr_hash is 'SHA-256 of the longer secret inside the QR code';
comment on column enrolment_code.operation_id is 'the business to enrol into';
comment on column enrolment_code.member_id is 'who will carry the device';
comment on column enrolment_code.device_name is 'how the office calls the device';
comment on column enrolment_code.expires_at is 'ten minutes after it was made';
comment on column enrolment_code.tries_left is 'each attempt takes one before the secret is looked at';
comment on column enrolment_code.used_at is 'a code works once';

create table sign_in_attempt (
    -- numbers the attempts
    id bigint generated always as identity constraint sign_in_attempt_pkey primary key,
    -- SHA-256 of what was typed as login: it may have been a password in the wrong field
    login_hash bytea not null,
    -- when it was tried
    at timestamptz not null default now()
);
create index sign_in_attempt_login_idx on sign_in_attempt (login_hash, at);
create index sign_in_attempt_at_idx on sign_in_attempt (at);
comment on table sign_in_attempt is 'auth: attempts that have not succeeded, known logins and others alike';
comment on column sign_in_attempt.id is 'numbers the attempts';
comment on column sign_in_attempt.login_hash is 'SHA-256 of what was typed as login: it may have been a password in the wrong field';
comment on column sign_in_attempt.at is 'when it was tried';

create table audit (
    -- whose books these are
    operation_id uuid not null constraint audit_operation_fkey references operation (id),
    -- one row, one deed
    id uuid not null default gen_random_uuid(),
    -- when
    at timestamptz not null default now(),
    -- who did it; absent for the console and for strangers
    member_id uuid,
    -- with which device; absent likewise
    device_id uuid,
    -- what was done, a fixed word
    deed text not null constraint audit_deed_form check (deed ~ '^[a-z]+(-[a-z]+)*$'),
    -- ids and fixed words only, never names or free text
    detail jsonb not null default '{}',
    constraint audit_pkey primary key (operation_id, id),
    constraint audit_member_fkey foreign key (operation_id, member_id) references member (operation_id, id),
    constraint audit_device_fkey foreign key (operation_id, device_id) references device (operation_id, id)
);
create index audit_at_idx on audit (operation_id, at);
create index audit_member_idx on audit (operation_id, member_id);
create index audit_device_idx on audit (operation_id, device_id);
comment on table audit is 'tenant: who did what to people, devices and keys; only ever added to';
comment on column audit.operation_id is 'whose books these are';
comment on column audit.id is 'one row, one deed';
comment on column audit.at is 'when';
comment on column audit.member_id is 'who did it; absent for the console and for strangers';
comment on column audit.device_id is 'with which device; absent likewise';
comment on column audit.deed is 'what was done, a fixed word';
comment on column audit.detail is 'ids and fixed words only, never names or free text';

alter table audit enable row level security;
alter table audit force row level security;
create policy audit_tenant on audit
    using (operation_id = nullif(current_setting('app.operation', true), '')::uuid)
    with check (operation_id = nullif(current_setting('app.operation', true), '')::uuid);
grant select, insert on audit to yj_app;

-- Which operation this transaction works for; null outside one.
create function current_operation() returns uuid
    language sql stable
    set search_path = pg_catalog, public, pg_temp
as $$ select nullif(current_setting('app.operation', true), '')::uuid $$;

-- The first statement of every transaction. A lost device, or one that left over 30 days ago, is named so that
-- the caller can say so, but opens no operation. Sessions that are over yield no row.
create function enter(p_sid uuid, p_epoch integer)
    returns table (operation_id uuid, member_id uuid, device_id uuid, role text, device_state text, confirmed boolean)
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    perform set_config('app.operation', '', true);
    select s.operation_id, s.member_id, s.device_id, m.role,
           case when d.state = 'left' and d.left_at < now() - interval '30 days' then 'lost' else d.state end,
           coalesce(s.confirmed_at > now() - interval '5 minutes', false)
      into operation_id, member_id, device_id, role, device_state, confirmed
      from session s
      join member m on m.operation_id = s.operation_id and m.id = s.member_id
      join device d on d.operation_id = s.operation_id and d.id = s.device_id
     where s.sid = p_sid and s.epoch = p_epoch and m.epoch = p_epoch and m.state = 'active'
       and s.ended_at is null and s.expires_at > now() and s.ends_at > now();
    if not found then
        return;
    end if;
    if device_state <> 'lost' then
        perform set_config('app.operation', operation_id::text, true);
    end if;
    return next;
end $$;

-- Books an attempt before the password is looked at. Answers how many seconds to wait; 0 means go on.
create function sign_in_begin(p_login_hash bytea) returns integer
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
declare
    v_count integer;
    v_oldest timestamptz;
begin
    perform pg_advisory_xact_lock(hashtextextended(encode(p_login_hash, 'hex'), 0));
    delete from sign_in_attempt where at < now() - interval '15 minutes';
    select count(*), min(at) into v_count, v_oldest from sign_in_attempt where login_hash = p_login_hash;
    if v_count >= 5 then
        return greatest(1, ceil(extract(epoch from v_oldest + interval '15 minutes' - now())))::integer;
    end if;
    insert into sign_in_attempt (login_hash) values (p_login_hash);
    return 0;
end $$;

-- Forgets the attempts of a login after it succeeded.
create function sign_in_clear(p_login_hash bytea) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$ delete from sign_in_attempt where login_hash = p_login_hash $$;

-- Who signs in by this login.
create function sign_in_find(p_login text)
    returns table (operation_id uuid, member_id uuid, password_hash text)
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    select m.operation_id, m.id, m.password_hash from member m
     where m.login = lower(p_login) and m.state = 'active' and m.password_hash is not null
$$;

-- Whose password is asked for again in a session that is already open.
create function sign_in_again(p_sid uuid)
    returns table (login text, password_hash text)
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    select m.login, m.password_hash from session s
      join member m on m.operation_id = s.operation_id and m.id = s.member_id
     where s.sid = p_sid and m.login is not null and m.password_hash is not null
$$;

-- Notes a wrong password in the books of the member it was meant for.
create function sign_in_failed(p_operation uuid, p_member uuid) returns void
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    perform set_config('app.operation', p_operation::text, true);
    insert into audit (operation_id, member_id, deed) values (p_operation, p_member, 'sign-in-failed');
end $$;

-- Enrols a device and activates its member if that was still pending.
create function device_add(p_operation uuid, p_member uuid, p_device uuid, p_name text, p_kind text, p_secret_hash bytea)
    returns void
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    update member set state = 'active', version = version + 1
     where operation_id = p_operation and id = p_member and state = 'pending';
    insert into device (operation_id, id, member_id, name, kind, secret_hash)
    values (p_operation, p_device, p_member, p_name, p_kind, p_secret_hash);
end $$;

-- Opens a session and its operation for this transaction. No row: the member is not active.
create function session_open(p_sid uuid, p_operation uuid, p_member uuid, p_device uuid, p_salt bytea,
                             p_token_hash bytea, p_confirmed boolean)
    returns table (epoch integer, role text)
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    select m.epoch, m.role into epoch, role from member m
     where m.operation_id = p_operation and m.id = p_member and m.state = 'active';
    if not found then
        return;
    end if;
    insert into session (sid, operation_id, member_id, device_id, epoch, salt, current_hash, expires_at, ends_at,
                         confirmed_at)
    values (p_sid, p_operation, p_member, p_device, epoch, p_salt, p_token_hash, now() + interval '400 days',
            now() + interval '800 days', case when p_confirmed then now() end);
    perform set_config('app.operation', p_operation::text, true);
    return next;
end $$;

-- Reads and locks a session for a refresh. No row: over, or the device may not come back.
create function session_find(p_sid uuid)
    returns table (operation_id uuid, member_id uuid, device_id uuid, epoch integer, role text, salt bytea,
                   generation integer, current_hash bytea, previous_hash bytea, device_secret_hash bytea)
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    return query
    select s.operation_id, s.member_id, s.device_id, s.epoch, m.role, s.salt, s.generation, s.current_hash,
           s.previous_hash, d.secret_hash
      from session s
      join member m on m.operation_id = s.operation_id and m.id = s.member_id
      join device d on d.operation_id = s.operation_id and d.id = s.device_id
     where s.sid = p_sid and s.epoch = m.epoch and m.state = 'active'
       and s.ended_at is null and s.expires_at > now() and s.ends_at > now()
       and (d.state = 'active' or (d.state = 'left' and d.left_at > now() - interval '30 days'))
       for update of s;
end $$;

-- Moves a session on to its next refresh token.
create function session_rotate(p_sid uuid, p_new_hash bytea) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    update session
       set generation = generation + 1, previous_hash = current_hash, current_hash = p_new_hash,
           expires_at = least(ends_at, now() + interval '400 days'), heard_at = now()
     where sid = p_sid
$$;

-- Replaces a refresh token that never arrived and whose key has been taken away since; its number stays.
create function session_reissue(p_sid uuid, p_new_hash bytea) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$ update session set current_hash = p_new_hash where sid = p_sid $$;

-- Ends a session; p_deed says why. Also used when a refresh token turns up that was used up long ago.
create function session_end(p_sid uuid, p_deed text) returns void
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
declare
    v_session session%rowtype;
begin
    update session set ended_at = now() where sid = p_sid and ended_at is null returning * into v_session;
    if not found then
        return;
    end if;
    perform set_config('app.operation', v_session.operation_id::text, true);
    insert into audit (operation_id, member_id, device_id, deed)
    values (v_session.operation_id, v_session.member_id, v_session.device_id, p_deed);
end $$;

-- The password was given again.
create function session_confirm(p_sid uuid) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$ update session set confirmed_at = now() where sid = p_sid and ended_at is null $$;

-- The business of this transaction.
create function operation_name() returns text
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$ select name from operation where id = current_operation() $$;

-- The people of this operation, or one of them.
create function member_list(p_member uuid)
    returns table (id uuid, name text, login text, role text, state text, version integer, created_at timestamptz)
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    select m.id, m.name, m.login, m.role, m.state, m.version, m.created_at from member m
     where m.operation_id = current_operation() and (p_member is null or m.id = p_member)
     order by m.created_at, m.id
$$;

-- Enters a person. One transaction at a time per operation, so that the last owner can be counted.
create function member_add(p_id uuid, p_name text, p_login text, p_role text, p_password_hash text) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    insert into member (operation_id, id, name, login, role, password_hash, state)
    values (current_operation(), p_id, p_name, lower(p_login), p_role, p_password_hash,
            case when p_password_hash is null then 'pending' else 'active' end)
$$;

-- Locks the people of this operation and counts its owners who can act.
create function member_owners() returns integer
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    perform 1 from member m where m.operation_id = current_operation() order by m.id for update;
    return (select count(*) from member m
             where m.operation_id = current_operation() and m.role = 'owner' and m.state = 'active');
end $$;

-- Changes a person; absent values stay.
create function member_change(p_id uuid, p_name text, p_role text) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    update member set name = coalesce(p_name, name), role = coalesce(p_role, role), version = version + 1
     where operation_id = current_operation() and id = p_id
$$;

-- The devices of this operation, or one of them.
create function device_list(p_device uuid)
    returns table (id uuid, member_id uuid, name text, kind text, state text, enrolled_at timestamptz,
                   left_at timestamptz, role text, heard_at timestamptz)
    language sql stable security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    select d.id, d.member_id, d.name, d.kind, d.state, d.enrolled_at, d.left_at, m.role,
           (select max(s.heard_at) from session s where s.operation_id = d.operation_id and s.device_id = d.id)
      from device d join member m on m.operation_id = d.operation_id and m.id = d.member_id
     where d.operation_id = current_operation() and (p_device is null or d.id = p_device)
     order by d.enrolled_at, d.id
$$;

-- Takes a device's rights; lost outranks left and neither is undone.
create function device_revoke(p_device uuid, p_state text) returns void
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    update device set state = p_state, left_at = coalesce(left_at, now())
     where operation_id = current_operation() and id = p_device
       and (state = 'active' or (state = 'left' and p_state = 'lost'))
$$;

-- Makes an enrolment code; false when its four characters are taken by another that is still good.
create function code_make(p_id uuid, p_lookup text, p_secret_hash text, p_qr_hash bytea, p_member uuid,
                          p_device_name text, p_expires_at timestamptz)
    returns boolean
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    delete from enrolment_code where expires_at < now();
    insert into enrolment_code (id, lookup, secret_hash, qr_hash, operation_id, member_id, device_name, expires_at)
    values (p_id, p_lookup, p_secret_hash, p_qr_hash, current_operation(), p_member, p_device_name, p_expires_at)
    on conflict on constraint enrolment_code_lookup_key do nothing;
    return found;
end $$;

-- Takes one try of a code and shows what would prove it. No row: unknown, used, too old, or tried too often.
create function code_try(p_lookup text)
    returns table (id uuid, secret_hash text, qr_hash bytea, operation_id uuid, member_id uuid, device_name text)
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    update enrolment_code c set tries_left = c.tries_left - 1
     where c.lookup = p_lookup and c.tries_left > 0 and c.used_at is null and c.expires_at > now()
    returning c.id, c.secret_hash, c.qr_hash, c.operation_id, c.member_id, c.device_name
$$;

-- Uses a code up; false when another was faster or it ran out meanwhile.
create function code_use(p_id uuid) returns boolean
    language plpgsql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    update enrolment_code set used_at = now() where id = p_id and used_at is null and expires_at > now();
    return found;
end $$;

do $$
declare
    f regprocedure;
begin
    foreach f in array array[
        'current_operation()', 'enter(uuid, integer)', 'sign_in_begin(bytea)', 'sign_in_clear(bytea)',
        'sign_in_find(text)', 'sign_in_again(uuid)', 'sign_in_failed(uuid, uuid)',
        'device_add(uuid, uuid, uuid, text, text, bytea)',
        'session_open(uuid, uuid, uuid, uuid, bytea, bytea, boolean)', 'session_find(uuid)',
        'session_rotate(uuid, bytea)', 'session_reissue(uuid, bytea)', 'session_end(uuid, text)', 'session_confirm(uuid)', 'operation_name()',
        'member_list(uuid)', 'member_add(uuid, text, text, text, text)', 'member_owners()',
        'member_change(uuid, text, text)', 'device_list(uuid)', 'device_revoke(uuid, text)',
        'code_make(uuid, text, text, bytea, uuid, text, timestamptz)', 'code_try(text)', 'code_use(uuid)']::regprocedure[]
    loop
        execute format('revoke all on function %s from public', f);
        execute format('grant execute on function %s to yj_app', f);
    end loop;
end $$;
