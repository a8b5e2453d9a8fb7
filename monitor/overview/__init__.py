"""The command post's board: all doors of one operation in one picture."""
