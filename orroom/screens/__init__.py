"""What is shown and touched."""
