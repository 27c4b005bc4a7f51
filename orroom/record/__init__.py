"""What is written down: plan files, case files, and the events as text."""
