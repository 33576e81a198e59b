"""What was flown, read from open formats."""
