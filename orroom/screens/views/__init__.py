"""What each screen says, as lines of words and marks: pure functions, tested without a terminal."""
