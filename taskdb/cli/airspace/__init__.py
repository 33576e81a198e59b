"""`taskdb airspace …`."""
