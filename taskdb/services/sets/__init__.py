"""Waypoint sets: taken in, shown, compared, patched, written out."""
