"""The fold: events in, one picture out. Pure; ``incident`` is its one door."""
