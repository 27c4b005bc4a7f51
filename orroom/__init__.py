"""orroom: live graft tallying in a hair-restoration operating room."""

__version__ = "0.1.0"
