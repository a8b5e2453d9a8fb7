"""The board: a process of its own that shows pictures of an incident and hands on acts."""
