"""The form for a plan."""
