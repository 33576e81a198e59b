"""Delimited text and tables: which column is what, and what each cell says."""
