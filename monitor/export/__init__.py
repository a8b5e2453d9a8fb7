"""A journal for other programs: tables in common formats, the raw frames as a capture."""
