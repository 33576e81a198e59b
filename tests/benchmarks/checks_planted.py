"""Positions as people type them, and every way in which typing goes wrong, made on the text.

Independent of the code that has to find the slips. A confusion of notations takes the digits that were typed in one
notation for those of another, as they stand, with digits cut, or with the zeros in front lost.
"""

from __future__ import annotations

import random

from taskdb.core.model import Position

DECIMAL, MINUTES, SECONDS = "decimal-degrees", "degrees-minutes", "degrees-minutes-seconds"


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


# --- confusions of notations -------------------------------------------------------------------------------------

CONFUSIONS = {
    "decimals read as minutes": (DECIMAL, MINUTES),
    "decimals read as seconds": (DECIMAL, SECONDS),
    "minutes read as decimals": (MINUTES, DECIMAL),
    "minutes read as seconds": (MINUTES, SECONDS),
    "seconds read as decimals": (SECONDS, DECIMAL),
    "seconds read as minutes": (SECONDS, MINUTES),
}
"""Each with the notation that was typed and the one in which it was read."""
HOW_READ = ("as they stand", "cut", "zeros lost", "carried")

CONVERTED = 0.2
"""So often a point is written in a third notation after it was read wrongly."""


def _confused(value: float, kind: str, how: str, is_latitude: bool) -> list[str] | None:
    """Return what stands there; None where nothing is different from the digits as they stand.

    "cut": the typed number had a digit less. "zeros lost": 5' as 5, not 05. "carried": 75' are taken for 1°15'.
    """
    came_from, stands_in = CONFUSIONS[kind]
    letter, degrees, *parts = type_out(value, came_from, is_latitude)
    digits = "".join(parts)
    if how == "cut":
        if came_from is SECONDS:
            return None
        digits = digits[:-1]
    if how == "zeros lost":
        if came_from is DECIMAL or stands_in is SECONDS or not any(part.startswith("0") for part in parts[:-1]):
            return None
        whole = [part.lstrip("0") or "0" for part in parts[:-1]]
        digits = "".join((*whole, parts[-1]))
    if stands_in is DECIMAL:
        return [letter, degrees, digits]
    if came_from is SECONDS:
        return [letter, degrees, parts[0], digits[2:] if how == "as they stand" else (parts[1].lstrip("0") or "0")]
    wide = [digits[:2], digits[2:]] if stands_in is MINUTES else [digits[:2], digits[2:4], digits[4:]]
    if not all(wide[:2]):
        return None
    if how != "carried":
        return [letter, degrees, *wide]
    return _carried(letter, degrees, wide, stands_in, is_latitude)


def _carried(letter: str, degrees: str, wide: list[str], stands_in: str, is_latitude: bool) -> list[str] | None:
    """Return what a lenient reader makes of minutes or seconds above 59, written anew in the notation it reads."""
    *whole, decimals = wide
    if all(int(part) < 60 for part in whole):
        return None
    size = int(degrees) + int(whole[0]) / 60
    last = int(decimals) / 10 ** len(decimals) if decimals else 0.0
    size = size + last / 60 if len(whole) == 1 else size + (int(whole[1]) + last) / 3600
    return [letter, *type_out(size, stands_in, is_latitude)[1:]]


def _confuse(truth: Position, notation: str, kind: str, rng: random.Random) -> tuple[list[str], list[str]] | None:
    stands_in = CONFUSIONS[kind][1]
    if stands_in != notation and rng.random() > CONVERTED:
        return None
    how, axis = rng.choice(HOW_READ), rng.choice(("both", "both", "lat", "lon"))
    both = []
    for name, value, is_latitude in (("lat", truth.latitude_deg, True), ("lon", truth.longitude_deg, False)):
        text: list[str] | None = type_out(value, stands_in, is_latitude)
        if axis in ("both", name):
            text = _confused(value, kind, how, is_latitude) or _confused(value, kind, "as they stand", is_latitude)
        stands = None if text is None else read(text, is_latitude)
        if text is None or stands is None:
            return None
        both.append(text if stands_in == notation else type_out(stands, notation, is_latitude))
    return both[0], both[1]


def slip(truth: Position, notation: str, kind: str, rng: random.Random) -> tuple[list[str], list[str]] | None:
    """Return latitude and longitude as mistyped, or None where this kind cannot befall this point."""
    lat = type_out(truth.latitude_deg, notation, True)
    lon = type_out(truth.longitude_deg, notation, False)
    if kind == "exchange":
        # With letters the hemisphere column stays; in signed decimals the sign goes along.
        if notation == DECIMAL:
            return type_out(truth.longitude_deg, notation, True), type_out(truth.latitude_deg, notation, False)
        return [lat[0], *lon[1:]], [lon[0], *lat[1:]]
    if kind in CONFUSIONS:
        return _confuse(truth, notation, kind, rng)
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
