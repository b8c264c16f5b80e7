-- Takes back exactly what up.sql made, in reverse.

drop function code_use(uuid);
drop function code_try(text);
drop function code_make(uuid, text, text, bytea, uuid, text, timestamptz);
drop function device_revoke(uuid, text);
drop function device_list(uuid);
drop function member_change(uuid, text, text);
drop function member_owners();
drop function member_add(uuid, text, text, text, text);
drop function member_list(uuid);
drop function operation_name();
drop function session_confirm(uuid);
drop function session_end(uuid, text);
drop function session_reissue(uuid, bytea);
drop function session_rotate(uuid, bytea);
drop function session_find(uuid);
drop function session_open(uuid, uuid, uuid, uuid, bytea, bytea, boolean);
drop function device_add(uuid, uuid, uuid, text, text, bytea);
drop function sign_in_failed(uuid, uuid);
drop function sign_in_again(uuid);
drop function sign_in_find(text);
drop function sign_in_clear(bytea);
drop function sign_in_begin(bytea);
drop function enter(uuid, integer);
drop function current_operation();

drop table audit;
drop table sign_in_attempt;
drop table enrolment_code;
drop table session;
drop table device;
drop table member;
drop table operation;

revoke select on __diesel_schema_migrations from yj_app;
comment on table __diesel_schema_migrations is null;
