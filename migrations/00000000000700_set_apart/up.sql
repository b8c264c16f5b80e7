-- Sets corrections apart that came before what they correct, once it turns out that only the office takes that back:
-- those by people who have no such right. Answers which. Works inside the operation that was entered, and nowhere else.
create function entry_set_apart(p_ids uuid[]) returns setof uuid
    language sql volatile security definer
    set search_path = pg_catalog, public, pg_temp
as $$
    update entry e set quarantine = 'not_your_role', corrects = null
      from member m
     where e.operation_id = current_operation() and e.id = any(p_ids)
       and e.quarantine is null and e.corrects is not null
       and m.operation_id = e.operation_id and m.id = e.author_id and m.role not in ('office', 'owner')
    returning e.id
$$;
revoke all on function entry_set_apart(uuid[]) from public;
grant execute on function entry_set_apart(uuid[]) to yj_app;
