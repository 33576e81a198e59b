"""Typed values as options and words: quantities, zones, settings."""
