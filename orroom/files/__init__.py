"""What people write: plan files and settings, read, checked, filled in and saved."""
