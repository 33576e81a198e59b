"""The ground from a folder of the user's own: SRTM tiles, ESRI ASCII grids and GeoTIFF, handed on as heights.

Heights are taken to be above mean sea level (SRTM: above the geoid EGM96); a file cannot say otherwise.
"""
