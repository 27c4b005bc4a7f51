"""The start screen."""
