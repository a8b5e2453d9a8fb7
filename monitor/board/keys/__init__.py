"""What each key does: the table of keys, and the state that keys change. Pure."""
