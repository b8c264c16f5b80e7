drop function operation_invented();
alter table operation drop column invented;
