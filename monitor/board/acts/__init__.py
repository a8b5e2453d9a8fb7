"""What a key, a sheet or a typed line can bring about. Pure."""
