"""What an incident tells other programs while it goes on: JSON Lines, figures. Pure."""
