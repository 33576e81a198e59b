"""`taskdb store …`, `undo` and `log`."""
