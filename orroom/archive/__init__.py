"""Closed cases kept together as Parquet, and what they come to across cases."""
