-- Enters, takes the turn of the operation and enters again, so that a revocation that committed meanwhile wins: in one
-- round trip. Each statement of a volatile function sees what was committed before it began.
create function take_turn(p_sid uuid, p_epoch integer)
    returns table (operation_id uuid, member_id uuid, device_id uuid, role text, device_state text, confirmed boolean,
                   last_seq bigint, chain bytea, last_received_at timestamptz)
    language plpgsql volatile
    set search_path = pg_catalog, public, pg_temp
as $$
begin
    select e.operation_id into operation_id from enter(p_sid, p_epoch) e;
    if not found then
        return;
    end if;
    -- Of a lost device nothing is open, and no row is found.
    select l.last_seq, l.chain, l.last_received_at into last_seq, chain, last_received_at
      from operation_ledger l where l.operation_id = take_turn.operation_id for update;
    select e.operation_id, e.member_id, e.device_id, e.role, e.device_state, e.confirmed
      into operation_id, member_id, device_id, role, device_state, confirmed
      from enter(p_sid, p_epoch) e;
    if found then
        return next;
    end if;
end $$;

revoke all on function take_turn(uuid, integer) from public;
grant execute on function take_turn(uuid, integer) to yj_app;
