"""`taskdb set …`."""
