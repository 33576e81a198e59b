"""Contests: made, set, pinned, their days."""
