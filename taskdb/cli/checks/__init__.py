"""`taskdb check …`."""
