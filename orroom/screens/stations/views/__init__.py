"""What each station shows, as lines of words and marks: pure functions, tested without a terminal."""
