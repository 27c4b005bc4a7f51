"""Which size runs out when, what dividing would bring, when the next harvest should start."""
