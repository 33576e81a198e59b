"""Checks of a set: run, accepted, mended."""
