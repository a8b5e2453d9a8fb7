"""What is said, and in which signs: words, times, pressures, who is meant. Pure."""
