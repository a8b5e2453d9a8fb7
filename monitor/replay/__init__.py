"""Replay: a journal seen again on recorded time, with the fold and the board of the live screen."""
