"""How fast the works go, and when they will be finished."""
