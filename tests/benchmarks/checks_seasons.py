"""Invents what the checks are measured on: a region's airfields as typed last season and this, with planted slips.

The fields are those of the open `airportsdata`; the slips are made on the typed text, independently of the code that
has to find them. Each row belongs to a source that types in one notation.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from pyproj import Geod

from taskdb.core.model import Position, Typed, Waypoint
from taskdb.reference.airports import load_airports
from tests.benchmarks.checks_planted import DECIMAL, KINDS, MINUTES, SECONDS, read, shown, slip, type_out

GEOD = Geod(ellps="WGS84")
SOURCES = {"survey": MINUTES, "charts": SECONDS, "web": DECIMAL}


def _box(south: float, north: float, west: float, east: float, *countries: str) -> Callable[[Waypoint], bool]:
    return lambda w: (
        south <= w.position.latitude_deg <= north
        and west <= w.position.longitude_deg <= east
        and (not countries or w.country in countries)
    )


REGIONS: dict[str, Callable[[Waypoint], bool]] = {
    "central Europe": _box(45, 56, 2, 25, "DE", "AT", "CH", "CZ", "PL", "NL", "BE", "DK", "SK", "HU", "SI"),
    "west Europe": _box(35, 61, -11, 19, "FR", "ES", "PT", "IT", "GB", "IE"),
    "US middle west": _box(37, 49, -98, -83, "US"),
    "US south": _box(26, 37, -107, -93, "US"),
    "US west": _box(32, 49, -125, -108, "US"),
    "Canada": _box(42, 72, -141, -52, "CA"),
    "Brazil": _box(-34, 6, -74, -34, "BR"),
    "Australia": _box(-44, -10, 112, 154, "AU"),
}


@dataclass
class Season:
    """A reference, the checked set, and the truth: `slipped` code → (kind, true position, is in the reference)."""

    region: str
    before: list[Waypoint]
    now: list[Waypoint]
    slipped: dict[str, tuple[str, Position, bool]] = field(default_factory=dict)
    moved: set[str] = field(default_factory=set)


def metres(a: Position, b: Position) -> float:
    return float(GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2])


@cache
def fields_of(region: str) -> tuple[Waypoint, ...]:
    """Return the airfields of a region, or what a mixed one holds."""
    if region in REGIONS:
        return tuple(w for w in load_airports() if REGIONS[region](w))
    from tests.benchmarks.checks_mixed import mixed

    return mixed(region)


# --- seasons ------------------------------------------------------------------------------------------------------


def as_typed(point: Waypoint, position: Position, is_told: bool) -> Waypoint:
    notation = SOURCES[point.source or "survey"]
    lat = type_out(position.latitude_deg, notation, True)
    lon = type_out(position.longitude_deg, notation, False)
    return _put(point, lat, lon, notation, is_told)


def without_text(season: Season) -> Season:
    """Return the season as a program writes it: notation and decimals are known, the digits as typed are not."""
    for name in ("before", "now"):
        bare = [
            replace(w, typed=replace(w.typed, latitude=None, longitude=None)) if w.typed else w
            for w in getattr(season, name)
        ]
        setattr(season, name, bare)
    return season


def _put(point: Waypoint, lat: list[str], lon: list[str], notation: str, is_told: bool) -> Waypoint:
    latitude, longitude = read(lat, True), read(lon, False)
    assert latitude is not None and longitude is not None
    decimals = max(len(lat[-1].rstrip("0")), len(lon[-1].rstrip("0")))
    typed = Typed(shown(lat), shown(lon), notation, decimals) if is_told else None
    return replace(point, position=Position.at(latitude, longitude), typed=typed)


def shifted(position: Position, rng: random.Random, least_m: float, most_m: float) -> Position:
    longitude, latitude, _ = GEOD.fwd(
        position.longitude_deg, position.latitude_deg, rng.uniform(0, 360), rng.uniform(least_m, most_m)
    )
    return Position.at(latitude, longitude)


def _other_name(name: str, rng: random.Random) -> str:
    if rng.random() < 0.5:
        return re.sub(r"(?i)\s*(airport|airfield|field|airstrip)$", "", name) + rng.choice((" Strip", " Gliding", ""))
    return "".join(rng.choice("bdfgklmnprst") + rng.choice("aeiou") for _ in range(rng.randint(3, 5))).title()


def make_season(
    region: str,
    seed: int,
    slips: int,
    *,
    most: int = 2000,
    with_country: bool = True,
    is_told: bool = True,
    everything_renamed: bool = False,
    kinds: tuple[str, ...] = KINDS,
    points: Sequence[Waypoint] | None = None,
) -> Season:
    """Return last season and this: 10 % measured again, 10 % renamed, 10 % recoded, 5 % new, 5 % gone, 2 % moved."""
    rng = random.Random(f"{region} {seed}")
    fields = list(fields_of(region) if points is None else points)
    rng.shuffle(fields)
    fields = fields[:most]
    base = []
    for one in fields:
        source = rng.choices(list(SOURCES), (0.6, 0.2, 0.2))[0]
        country = one.country if with_country else None
        base.append(as_typed(replace(one, source=source, country=country), one.position, is_told))
    season = Season(region, [], [])
    share = len(base) // 20
    new, gone, both = base[:share], base[share : 2 * share], base[2 * share :]
    season.before = sorted([*gone, *both], key=lambda w: w.code)
    now: list[tuple[Waypoint, bool]] = [(w, False) for w in new]
    for number, point in enumerate(both):
        if rng.random() < 0.10:
            point = as_typed(point, shifted(point.position, rng, 5, 150), is_told)
        is_moved = rng.random() < 0.02
        if is_moved:
            point = as_typed(point, shifted(point.position, rng, 400, 5000), is_told)
        if everything_renamed or rng.random() < 0.10:
            point = replace(point, name=_other_name(point.name, rng))
        if everything_renamed:
            point = replace(point, name=f"{point.name} {number}", code=f"N{number:04d}")
        elif rng.random() < 0.10:
            point = replace(point, code=f"N{number:04d}")
        if is_moved:
            season.moved.add(point.code)
        now.append((point, True))
    _plant(season, now, slips, rng, kinds, is_told)
    return season


def _plant(
    season: Season,
    now: list[tuple[Waypoint, bool]],
    slips: int,
    rng: random.Random,
    kinds: tuple[str, ...],
    is_told: bool,
) -> None:
    rows = [k for k, (w, _) in enumerate(now) if w.code not in season.moved]
    rng.shuffle(rows)
    planted = 0
    result = [w for w, _ in now]
    for k in rows:
        if planted == slips:
            break
        point, is_known = now[k]
        wrong = _slip_that_matters(point.position, SOURCES[point.source or "survey"], kinds, rng)
        if wrong is not None:
            kind, latitude, longitude = wrong
            result[k] = _put(point, latitude, longitude, SOURCES[point.source or "survey"], is_told)
            season.slipped[point.code] = (kind, point.position, is_known)
            planted += 1
    season.now = sorted(result, key=lambda w: w.code)


def _slip_that_matters(
    truth: Position, notation: str, kinds: tuple[str, ...], rng: random.Random
) -> tuple[str, list[str], list[str]] | None:
    """Return a slip that moves the point by more than 300 m. The kind is drawn first and then tried repeatedly, so that
    kinds whose slips are often small or refused by an import stay as frequent as the others.
    """
    for kind in rng.sample(kinds, len(kinds)):
        for _ in range(40):
            wrong = slip(truth, notation, kind, rng)
            if wrong is None:
                break
            latitude, longitude = read(wrong[0], True), read(wrong[1], False)
            if latitude is None or longitude is None:
                continue
            if metres(Position.at(latitude, longitude), truth) > 300:
                return kind, *wrong
    return None
