"""The records of a flight recorder's file, for whoever reads declarations or flights from it."""
