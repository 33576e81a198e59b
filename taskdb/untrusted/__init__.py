"""Bounds on what strangers made, before a parser takes it into memory."""
