"""Orders: given to wearers, received by packs, answered, obeyed; roll calls; emergency crews."""
