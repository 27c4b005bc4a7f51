"""The clinic's settings."""
