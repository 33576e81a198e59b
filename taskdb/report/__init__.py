"""Drawn: task maps, sheets and published pages, from plain results. No store, no clock, no network."""
