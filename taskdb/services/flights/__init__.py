"""Flights that were flown: read from logs against the saved tasks, and what they say of a set's places."""
