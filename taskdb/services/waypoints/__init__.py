"""Single waypoints: found, shown, changed."""
