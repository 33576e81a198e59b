"""Invents what the checks are measured on: a region's airfields as typed last season and this, with planted slips.

The fields are those of the open `airportsdata`; the slips are made on the typed text, independently of the code that
has to find them. Each row belongs to a source that types in one notation.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache

from pyproj import Geod

from taskdb.core.model import Position, Typed, Waypoint
from taskdb.reference.airports import load_airports

GEOD = Geod(ellps="WGS84")
DECIMAL, MINUTES, SECONDS = "decimal-degrees", "degrees-minutes", "degrees-minutes-seconds"
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
    return tuple(w for w in load_airports() if REGIONS[region](w))


# --- typed text -------------------------------------------------------------------------------------------------


def type_out(value: float, notation: str, is_latitude: bool) -> list[str]:
    """Return [hemisphere letter, degrees, minutes…, decimals] as a careful person types them."""
    letter = ("N" if value >= 0 else "S") if is_latitude else ("E" if value >= 0 else "W")
    wide = 2 if is_latitude else 3
    size = abs(value)
    if notation == DECIMAL:
        total = round(size * 10**5)
        return [letter, f"{total // 10**5:0{wide}d}", f"{total % 10**5:05d}"]
    if notation == MINUTES:
        total = round(size * 60_000)
        return [letter, f"{total // 60_000:0{wide}d}", f"{total // 1000 % 60:02d}", f"{total % 1000:03d}"]
    total = round(size * 3600)
    return [letter, f"{total // 3600:0{wide}d}", f"{total // 60 % 60:02d}", f"{total % 60:02d}", ""]


def read(text: list[str], is_latitude: bool) -> float | None:
    """Return the degrees that the typed text gives; None where an import would refuse it."""
    letter, *parts, decimals = text
    if letter not in ("NS" if is_latitude else "EW") or any(len(p) > (2, 3)[not i] for i, p in enumerate(parts)):
        return None
    if not all(parts):
        return None
    numbers = [int(part) for part in parts]
    last = numbers[-1] + (int(decimals) / 10 ** len(decimals) if decimals else 0.0)
    if any(number >= 60 for number in numbers[1:]):
        return None
    value = last if len(numbers) == 1 else float(numbers[0])
    if len(numbers) == 2:
        value += last / 60
    elif len(numbers) == 3:
        value += numbers[1] / 60 + last / 3600
    if value > (90 if is_latitude else 180):
        return None
    return -value if letter in "SW" else value


def shown(text: list[str]) -> str:
    letter, *parts, decimals = text
    marks = ("°", "′", "″")
    last = parts[-1] + (f".{decimals}" if decimals else "")
    body = "".join(part + mark for part, mark in zip([*parts[:-1], last], marks, strict=False))
    return f"{body}{letter}" if len(parts) > 1 else f"{'-' if letter in 'SW' else ''}{last}"


# --- slips on typed text -----------------------------------------------------------------------------------------


def _digit_places(text: list[str]) -> list[tuple[int, int]]:
    return [(i, j) for i, part in enumerate(text) if i for j in range(len(part))]


def _digit(text: list[str], rng: random.Random) -> list[str]:
    i, j = rng.choice(_digit_places(text))
    digit = rng.choice([d for d in "0123456789" if d != text[i][j]])
    return [*text[:i], text[i][:j] + digit + text[i][j + 1 :], *text[i + 1 :]]


def _swap(text: list[str], rng: random.Random) -> list[str]:
    places = _digit_places(text)
    k = rng.randrange(len(places) - 1)
    (i, j), (p, q) = places[k], places[k + 1]
    parts = [list(part) for part in text]
    parts[i][j], parts[p][q] = parts[p][q], parts[i][j]
    return ["".join(part) for part in parts]


def _drop(text: list[str], rng: random.Random) -> list[str]:
    i, j = rng.choice(_digit_places(text))
    return [*text[:i], text[i][:j] + text[i][j + 1 :], *text[i + 1 :]]


def _double(text: list[str], rng: random.Random) -> list[str]:
    # Whole parts as people type them, without leading zeros: 5 becomes 55.
    bare = [text[0], *(part.lstrip("0") or "0" for part in text[1:-1]), text[-1]]
    i, j = rng.choice(_digit_places(bare))
    return [*bare[:i], bare[i][: j + 1] + bare[i][j:], *bare[i + 1 :]]


def _off(text: list[str], rng: random.Random, is_latitude: bool) -> list[str] | None:
    value = read(text, is_latitude)
    assert value is not None
    steps = [1.0] if len(text) == 3 else [1.0, 1 / 6]
    size = abs(value) + rng.choice(steps) * rng.choice((-1, 1))
    if size < 0:
        return None
    notation = {3: DECIMAL, 4: MINUTES, 5: SECONDS}[len(text)]
    return [text[0], *type_out(size, notation, is_latitude)[1:]]


def _misread(value: float, kind: str, is_latitude: bool) -> list[str] | None:
    """Return what stands there when the careful text in one notation was taken for another."""
    came_from = {
        "minutes-as-decimals": MINUTES,
        "decimals-as-minutes": DECIMAL,
        "seconds-as-decimals": SECONDS,
        "decimals-as-seconds": MINUTES,
    }[kind]
    text = type_out(value, came_from, is_latitude)
    if kind == "minutes-as-decimals":
        return [text[0], text[1], text[2] + text[3]]
    if kind == "decimals-as-minutes":
        return [text[0], text[1], text[2][:2], text[2][2:]]
    if kind == "seconds-as-decimals":
        return [text[0], text[1], text[2], text[3]]
    return [text[0], text[1], text[2], text[3][:2], text[3][2:]]


STANDS_IN = {
    "minutes-as-decimals": DECIMAL,
    "decimals-as-minutes": MINUTES,
    "seconds-as-decimals": MINUTES,
    "decimals-as-seconds": SECONDS,
}
KINDS = ("digit", "swap", "dropped", "doubled", "hemisphere", "exchange", "off", *STANDS_IN)


def slip(truth: Position, notation: str, kind: str, rng: random.Random) -> tuple[list[str], list[str]] | None:
    """Return latitude and longitude as mistyped, or None where this kind cannot befall this point."""
    lat = type_out(truth.latitude_deg, notation, True)
    lon = type_out(truth.longitude_deg, notation, False)
    if kind == "exchange":
        # With letters the hemisphere column stays; in signed decimals the sign goes along.
        if notation == DECIMAL:
            return type_out(truth.longitude_deg, notation, True), type_out(truth.latitude_deg, notation, False)
        return [lat[0], *lon[1:]], [lon[0], *lat[1:]]
    if kind in STANDS_IN:
        if STANDS_IN[kind] != notation:
            return None
        axis = rng.choice(("both", "both", "lat", "lon"))
        new_lat = _misread(truth.latitude_deg, kind, True) if axis != "lon" else lat
        new_lon = _misread(truth.longitude_deg, kind, False) if axis != "lat" else lon
        return None if new_lat is None or new_lon is None else (new_lat, new_lon)
    is_latitude = rng.random() < 0.5
    text = lat if is_latitude else lon
    if kind == "hemisphere":
        new: list[str] | None = [{"N": "S", "S": "N", "E": "W", "W": "E"}[text[0]], *text[1:]]
    elif kind == "off":
        new = _off(text, rng, is_latitude)
    else:
        new = {"digit": _digit, "swap": _swap, "dropped": _drop, "doubled": _double}[kind](text, rng)
    if new is None:
        return None
    return (new, lon) if is_latitude else (lat, new)


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
) -> Season:
    """Return last season and this: 10 % measured again, 10 % renamed, 10 % recoded, 5 % new, 5 % gone, 2 % moved."""
    rng = random.Random(f"{region} {seed}")
    fields = list(fields_of(region))
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
