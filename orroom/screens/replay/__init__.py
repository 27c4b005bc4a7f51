"""A case played again."""
