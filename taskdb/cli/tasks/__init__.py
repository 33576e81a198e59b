"""`taskdb task …`."""
