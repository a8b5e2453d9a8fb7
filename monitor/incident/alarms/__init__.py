"""Alarms: the catalogue, the table of states, the engine between them."""
