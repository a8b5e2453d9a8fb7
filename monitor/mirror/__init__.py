"""Replicas of journals that are recorded elsewhere, kept from the stream of a broker."""
