-- Takes back exactly what up.sql made, in reverse.

drop function ledger_server_id();
drop table server;
drop trigger operation_ledger_begin on operation;
drop function operation_ledger_begin();
drop table dead_letter;
drop table state_row;
drop table entry_subject;
drop table entry;
drop table operation_ledger;
