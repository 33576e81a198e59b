"""What contests are set to: every setting in one table, its kind, and what holds for a class on a day."""
