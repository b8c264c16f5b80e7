-- Takes back exactly what up.sql made, in reverse.

drop function entry_erase(uuid, uuid, timestamptz, text);
drop function ledger_heads(uuid[]);
drop table erasure;
drop table snapshot_part;
drop table entry_doubt;
drop table device_tally;
drop index entry_device_idx;
alter table operation_ledger drop column began_at, drop column states_epoch;
