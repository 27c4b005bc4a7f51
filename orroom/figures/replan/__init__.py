"""When the harvest gives other numbers than the plan: how the sizes are best divided over the zones."""
