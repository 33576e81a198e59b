"""What a search asks for, as values that decide on an object; the store turns the same values into SQL."""
