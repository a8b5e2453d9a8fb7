"""The parts of a screen as lines: header, alarms, orders, wearers, charts. Pure."""
