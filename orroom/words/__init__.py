"""What the record and the figures say in words: entries, status, explanations, key cards."""
