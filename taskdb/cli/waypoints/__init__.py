"""`taskdb waypoint …`."""
