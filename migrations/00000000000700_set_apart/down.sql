drop function entry_set_apart(uuid[]);
