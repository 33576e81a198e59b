"""Computed, and pure: no clock, files, database, randomness or printing; the same input gives the same output."""
