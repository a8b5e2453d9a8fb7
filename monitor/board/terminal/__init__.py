"""The terminal: one widget of lines, colours, the apps that keys go into."""
