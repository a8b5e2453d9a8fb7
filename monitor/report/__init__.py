"""The report: what a journal tells, for people who were not there. A reader of the fold."""
