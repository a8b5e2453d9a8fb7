"""Air: what a cylinder holds, and what a wearer's line shows of it."""
