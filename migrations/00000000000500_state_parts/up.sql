-- What is past and settled leaves the row of a state: fillings that were spun, treatments of former years. A push reads
-- and writes the row; the parts are written once and read by questions.

create table state_part (
    -- whose thing it is
    operation_id uuid not null,
    -- what kind of thing
    kind text collate "C" not null,
    -- which one
    id uuid not null,
    -- which part, from 0
    n integer not null,
    -- lists of the state, JSON
    state text not null,
    -- marks of the fold, JSON
    memo text not null,
    constraint state_part_pkey primary key (operation_id, kind, id, n)
);
comment on table state_part is 'tenant: what is past and settled of a state, folded from its entries';
comment on column state_part.operation_id is 'whose thing it is';
comment on column state_part.kind is 'what kind of thing';
comment on column state_part.id is 'which one';
comment on column state_part.n is 'which part, from 0';
comment on column state_part.state is 'lists of the state, JSON';
comment on column state_part.memo is 'marks of the fold, JSON';

alter table state_row add column parts integer not null default 0;
comment on column state_row.parts is 'how many parts lie beside it';

alter table state_part enable row level security;
alter table state_part force row level security;
create policy state_part_tenant on state_part
    using (operation_id = nullif(current_setting('app.operation', true), '')::uuid)
    with check (operation_id = nullif(current_setting('app.operation', true), '')::uuid);
grant select, insert, delete on state_part to yj_app;
