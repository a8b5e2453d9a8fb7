"""The journal: one SQLite file an incident, appended to by one recorder and read by everybody.

``JOURNAL-FORMAT.md`` beside this file says what is in it, for whoever reads it without this code.
"""
