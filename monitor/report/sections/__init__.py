"""The parts of a report, each from what was gathered to blocks of a page."""
