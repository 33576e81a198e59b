"""`taskdb flight …`."""
