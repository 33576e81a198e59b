"""`taskdb contest …`."""
