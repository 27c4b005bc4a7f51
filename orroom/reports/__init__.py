"""What is told afterwards: one summary model and one module per output format."""
