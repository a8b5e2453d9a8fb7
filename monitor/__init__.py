"""The base-station monitor: links, recorder, journal, incident and board."""

__version__ = "0.1.0"
