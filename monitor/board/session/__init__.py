"""What a board stands on: the record, the desk, the recorder, the watch over them."""
