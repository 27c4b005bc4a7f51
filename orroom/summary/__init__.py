"""One model of a case as it is at its last entry, and what is left out of it before it is shared."""
