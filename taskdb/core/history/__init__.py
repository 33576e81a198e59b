"""Histories of catalogues: matching one to another, and what changed between two states."""
