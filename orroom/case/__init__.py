"""What is true about a case: plan, events, state, and the rules between them. Pure."""
