"""Checkpoints: the folded state, written down so that a reader need not fold from the first row.

A cache and nothing else. Whatever is wrong with a checkpoint, it is passed over and the rows are
folded; dropping them all changes no answer.
"""
