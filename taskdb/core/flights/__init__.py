"""What a flight log tells: which fixes count, where they cross zones, which task was flown and how far."""
