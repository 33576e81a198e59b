"""XML, JSON and GeoJSON geometry, bounded while reading and the same bytes when written."""
