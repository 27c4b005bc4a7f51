"""A summary as sections of blocks, a module for what a reader looks for."""
