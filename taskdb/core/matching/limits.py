"""Within which distances two places may be one: each limit once, for importing, carrying, comparing and checking."""

from __future__ import annotations

SAME_ROUNDED_WITHIN_M = 3.0
"""Two positions of one point, each cut to 0.001 minute, lie no further apart (1.855 m in latitude and longitude)."""
SAME_SPOT_WITHIN_M = 30.0
"""Positions so near each other are one place, whatever code and name say, if nothing else is as near."""
ONE_PLACE_WITHIN_M = 250.0
"""Two points nearer than this are one place, unless another distance is asked for."""
MEASURED_AGAIN_WITHIN_M = 300.0
"""Two statements of one place that lie nearer than this are the same, measured again; further apart they differ."""
FAR_APART_M = 1000.0
"""A code alone matches no further than this. Whatever else matches over a larger distance is told on import, and waits
for a person where a task would be flown to it: else it is carried onto the slip.
"""
SAME_NAME_WITHIN_M = 5000.0
"""A name alone matches no further than this."""
