"""Which size runs dry when, what dividing would bring, when the next harvest should start."""
