"""What the state adds up to: pure functions, units in their names, ``None`` where there is no data."""
