"""The instructor's screen: how it really is beside what the board shows; trouble by hand."""

BY = "instructor"
"""In whose name its acts stand in the journal."""
