"""Questions that are filled in, and what comes of them. Pure."""
