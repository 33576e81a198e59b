"""Airspace: taken in, drawn by hand, shown, compared, and what tasks are held against."""
