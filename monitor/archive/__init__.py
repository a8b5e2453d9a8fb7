"""Journals as records: what is there, is it as it was written, packed for whoever gets it."""
