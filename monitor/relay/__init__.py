"""The commits of a journal over a broker: what is sent, and how. RELAY-FORMAT.md describes it."""
