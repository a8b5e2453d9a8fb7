"""The board as sentences and typed commands."""
