"""A pack of any maker tried against the packet format. Pure: frames and times in, a table out."""
