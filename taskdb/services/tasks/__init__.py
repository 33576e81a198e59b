"""Tasks: built, taken in, shown, reviewed, carried over, found again."""
