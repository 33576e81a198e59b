"""Tasks in each open format, read and written."""
