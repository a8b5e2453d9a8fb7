"""The process that follows a journal and keeps what its readers begin with."""
