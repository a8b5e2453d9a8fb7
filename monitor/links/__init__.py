"""Links: bytes and stamps, no meaning.

A link reads in a thread of its own, stamps what it read at once, and puts it into the inbox that
all links of a recorder share. One link object is one opening of a port: when it fails it says so
once, by ``LinkDown``, and is then only good for closing. Whoever owns it may open another under
the same number.
"""
