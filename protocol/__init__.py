"""The open packet format: what a pack and a base say to each other, byte by byte.

Pure: no socket, clock, file or random number in this package. ``PACKET-FORMAT.md`` beside this
file is the format's own document; the code follows it.
"""
