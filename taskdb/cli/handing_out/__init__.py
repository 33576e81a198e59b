"""`taskdb export`, `sheet` and `handout`."""
