"""What the officer keeps beside air and alarms: checks, tasks, areas, reliefs, sets, the board."""
