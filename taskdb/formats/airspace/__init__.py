"""Volumes of airspace read and written: GeoJSON, KML and KMZ; AIXM is read."""
