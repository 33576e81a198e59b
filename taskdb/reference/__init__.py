"""Looked up: data that travels in the package and optional data packages, handed on as plain values."""
