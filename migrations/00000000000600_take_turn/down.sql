drop function take_turn(uuid, integer);
