"""The recorder: hears the packs, puts everything in one order, and keeps it.

``sequencer`` is the one door of the pure part (``intake``, ``beacons``, ``seats``, ``refusals``,
``recovery``); ``recorder`` is the shell around it, with the clock, the sockets and the journal.
"""
