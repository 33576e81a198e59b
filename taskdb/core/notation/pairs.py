"""A whole position as one text: splits it into its halves, reads geo URIs, ISO 6709, UTM and MGRS, prints positions.

Used for what a person types (`parse_position`) and for files that hold both coordinates in one column.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from taskdb.core.model import E7, Position
from taskdb.core.notation.angles import (
    LETTER_WORDS,
    Angle,
    Axis,
    Notation,
    Trouble,
    format_angle,
    plain_signs,
    read_angle,
    shown_angle,
)
from taskdb.core.notation.columns import Decision, decide, read_column
from taskdb.core.notation.grid import format_mgrs, format_utm, read_mgrs, read_utm
from taskdb.core.notation.halves import bare_halves
from taskdb.errors import InputError, UsageError

WHOLE = (Notation.GEO_URI, Notation.ISO6709, Notation.UTM, Notation.MGRS)
"""The notations in which a position is one text that has no halves."""

POSITION_FORMS = "47.26,11.34 · 47°15.600′N 011°20.400′E · 471536N0112024E · geo:47.26,11.34 · 32T 677007 5236726"

_GEO = re.compile(r"(?i)geo:(-?\d+(?:\.(\d+))?),(-?\d+(?:\.(\d+))?)(?:,-?\d+(?:\.\d+)?)?((?:;[^;]*)*)")
_ISO = re.compile(
    r"([+-]\d{2}(?:\d\d){0,2}(?:\.\d+)?)([+-]\d{3}(?:\d\d){0,2}(?:\.\d+)?)(?:[+-]\d+(?:\.\d+)?)?(?:CRS([^/]*))?/?"
)
_UTM = re.compile(
    r"(?i)(?:utm\s*)?(?:zone\s*)?(\d{1,2})\s*([C-HJ-NP-X])(orth|outh)?[\s,;]+"
    r"(\d{6}(?:\.(\d+))?)\s*(?:m?\s*e)?[\s,;]+(\d{1,8}(?:\.\d+)?)\s*(?:m?\s*n)?"
)
_MGRS = re.compile(
    r"(?i)(\d{1,2})\s*([C-HJ-NP-X])\s*([A-HJ-NP-Z]{2})\s*(\d{6,10}|\d{3}\s\d{3}|\d{4}\s\d{4}|\d{5}\s\d{5})"
)
_FORMS = {Notation.GEO_URI: _GEO, Notation.ISO6709: _ISO, Notation.UTM: _UTM, Notation.MGRS: _MGRS}

_WORD = re.compile(r"[^\W\d_]+")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_PART = re.compile(r"\s*[;|/]\s*")
_SIMPLE = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*,\s*([+-]?\d+(?:\.\d+)?)")
_GAP = re.compile(r"\s*,\s*|\s+")


@dataclass(frozen=True, slots=True)
class ReadPair:
    """A position as read: 1e-7 degrees, decimals as typed (the larger of both), and the halves as typed."""

    latitude_e7: int
    longitude_e7: int
    decimals: int
    latitude: str
    longitude: str = ""


@dataclass(slots=True)
class PairColumn:
    """A column of positions as read, row by row; troubles by index, with zeros in their row; `by_signs` as there."""

    pairs: list[ReadPair] = field(default_factory=list)
    troubles: list[tuple[int, Trouble]] = field(default_factory=list)
    by_signs: list[int] = field(default_factory=list)


def whole_notation(text: str) -> Notation | None:
    """Return which of the notations without halves a text is in, if any."""
    plain = plain_signs(text)
    return next((notation for notation, form in _FORMS.items() if form.fullmatch(plain)), None)


def read_whole(text: str, notation: Notation) -> ReadPair | Trouble:
    """Return the position of a geo URI, ISO 6709 text, UTM or MGRS place."""
    match = _FORMS[notation].fullmatch(plain_signs(text))
    if match is None:
        return Trouble("bad-position", f"it is no position in {notation.value}")
    if notation is Notation.GEO_URI:
        return _read_geo(match, text)
    if notation is Notation.ISO6709:
        return _read_iso(match, text)
    letter = match[2].upper()
    if notation is Notation.UTM:
        found = read_utm(int(match[1]), letter, float(match[4]), float(match[6]), is_half=match[3] is not None)
        decimals = len(match[5] or "")
    else:
        found, decimals = read_mgrs(int(match[1]), letter, match[3].upper(), re.sub(r"\s", "", match[4])), 0
    return found if isinstance(found, Trouble) else ReadPair(*found, decimals, text)


def _read_geo(match: re.Match[str], text: str) -> ReadPair | Trouble:
    # RFC 5870 3.3: latitude first, WGS84 unless a crs says otherwise.
    names = {name.lower(): value for name, _, value in (p.partition("=") for p in match[5].split(";") if p)}
    if names.get("crs", "wgs84").lower() != "wgs84":
        return Trouble("other-datum", f"its datum is {names['crs']}; only WGS84 is read")
    return _pair_of(match[1], match[3], text, ("", ""))


def _read_iso(match: re.Match[str], text: str) -> ReadPair | Trouble:
    if match[3] and match[3].upper().replace("_", "") not in ("WGS84", "EPSG:4326"):
        return Trouble("other-datum", f"its datum is {match[3]}; only WGS84 is read")
    digits = [len(part.partition(".")[0]) - 1 for part in (match[1], match[2])]
    if digits[1] != digits[0] + 1:
        return Trouble("bad-position", "its latitude and longitude are not given to the same parts of a degree")
    return _pair_of(match[1], match[2], text, ("", ""))


def _pair_of(latitude: str, longitude: str, text: str, kept: tuple[str, str]) -> ReadPair | Trouble:
    found = [read_angle(part, axis) for part, axis in zip((latitude, longitude), Axis, strict=True)]
    for reading in found:
        if isinstance(reading, Trouble):
            return reading
    north, east = (reading[0] for reading in found if not isinstance(reading, Trouble))
    return ReadPair(north.e7, east.e7, max(north.decimals, east.decimals), kept[0] or text, kept[1])


def _letters(text: str) -> list[tuple[int, int, str]]:
    """Return where hemisphere letters and words stand; a small s after `d` and `m` marks is a second."""
    found = []
    marks = re.search(r"\d\s*d", text) is not None
    for match in _WORD.finditer(text):
        word = match[0]
        if word == "s" and marks:
            continue
        letter = LETTER_WORDS.get(word.lower())
        if letter is not None:
            found.append((match.start(), match.end(), letter))
    return found


def split_pair(text: str, wanted: Notation | None = None) -> tuple[str, str] | Trouble:
    """Return the latitude's and the longitude's half of a text: by its letters, a separator, or its numbers.

    Trouble `ambiguous-position` with the readings where commas may part or be decimal signs; `wanted` may decide.
    """
    plain = plain_signs(text)
    simple = _SIMPLE.fullmatch(plain)
    if simple is not None:
        return simple[1], simple[2]
    letters = _letters(plain)
    if len(letters) == 2 and (letters[0][2] in "NS") != (letters[1][2] in "NS"):
        is_leading = _NUMBER.search(plain[: letters[0][0]]) is None
        cut = letters[1][0] if is_leading else letters[0][1]
        halves = _trimmed(plain[:cut], plain[cut:])
        return halves if letters[0][2] in "NS" else (halves[1], halves[0])
    parts = _PART.split(plain)
    if len(parts) == 2 and all(parts):
        return parts[0], parts[1]
    bare = bare_halves(plain)
    ways = bare if bare is not None else [_trimmed(plain[: g.start()], plain[g.end() :]) for g in _GAP.finditer(plain)]
    if bare is not None and len(bare) == 1:
        return bare[0]
    found: dict[tuple[int, int], tuple[tuple[str, str], Angle, Angle]] = {}
    for halves in ways:
        both = _read_halves(halves, wanted)
        if both is not None:
            found.setdefault((both[0].e7, both[1].e7), (halves, *both))
    exact = {key: way for key, way in found.items() if way[1].notation is wanted and way[2].notation is wanted}
    found = exact or found
    if len(found) == 1:
        return next(iter(found.values()))[0]
    if found:
        even = [(n, e) for _, n, e in found.values() if n.notation is e.notation]
        likely = even if len(even) > 1 else [(n, e) for _, n, e in found.values()]
        shown = " or ".join(_shown_pair(n, e) for n, e in likely)
        told = _notations({angle.notation for pair in likely for angle in pair})
        return Trouble("ambiguous-position", f"its commas leave open whether it is {shown}", told)
    if len(ways) > 1 or (ways and bare is None):
        # None of them can be: the one that says why is the one at the middle.
        return ways[len(ways) // 2]
    return Trouble("bad-position", f"it is no position; write it as {POSITION_FORMS}")


def _read_halves(halves: tuple[str, str], wanted: Notation | None) -> tuple[Angle, Angle] | None:
    """Return two halves as read, in the wanted notation where one is; None where one of them cannot be."""
    found = []
    for half, axis in zip(halves, Axis, strict=True):
        angles = read_angle(half, axis, letter_o="E", bare_packed=wanted is not None)
        if isinstance(angles, Trouble):
            return None
        fitting = [angle for angle in angles if wanted is None or angle.fits(wanted) or angle.is_clear]
        if not fitting:
            return None
        found.append(fitting[0])
    return found[0], found[1]


def _notations(notations: set[Notation]) -> str | None:
    """Return the notations that decide between readings, as options; None where they are all in one."""
    names = sorted(notations, key=list(Notation).index)
    return " or ".join(f"--notation {name}" for name in names) if len(names) > 1 else None


def _trimmed(first: str, second: str) -> tuple[str, str]:
    return first.strip(" ,;/|"), second.strip(" ,;/|")


def looks_like_position(text: str) -> bool:
    """Say whether a typed word is meant as a position rather than as a code or a name, mistyped ones included."""
    plain = plain_signs(text)
    if plain.lower().startswith("geo:") or whole_notation(plain) is not None:
        return True
    numbers = re.findall(r"\d+(?:\.\d+)?", plain)
    words = [word.lower() for word in _WORD.findall(plain)]
    known = all(w in LETTER_WORDS or w in ("d", "m", "deg", "min", "sec", "lat", "lon", "long") for w in words)
    if len(numbers) < 2 or not known or re.search(r"[^\w\s.,;/|°'\":+-]", plain):
        return False
    letters = {letter for _, _, letter in _letters(plain)}
    return "," in plain or "°" in plain or (bool(letters & set("NS")) and bool(letters & set("EWO")))


def parse_position(text: str) -> Position:
    """Return the position that a person typed, in any notation that intake reads.

    Raises UsageError `bad-position` with the reason, `ambiguous-position` with the readings where it fits several.
    """
    notation = whole_notation(text)
    if notation is not None:
        pair = read_whole(text, notation)
        if isinstance(pair, Trouble):
            _refuse(text, pair)
        return _position(pair.latitude_e7, pair.longitude_e7)
    halves = split_pair(text)
    if isinstance(halves, Trouble):
        _refuse(text, halves)
    north = read_angle(halves[0], Axis.LATITUDE)
    east = read_angle(halves[1], Axis.LONGITUDE)
    if isinstance(north, Trouble):
        _refuse(text, north)
    if isinstance(east, Trouble):
        _refuse(text, east)
    readings = {(n.e7, e.e7): (n, e) for n in north for e in east if n.notation is e.notation} or {
        (n.e7, e.e7): (n, e) for n in north for e in east
    }
    if len(readings) > 1:
        shown = [_shown_pair(n, e) for n, e in readings.values()]
        raise UsageError(
            "ambiguous-position",
            f"{text!r} fits {len(shown)} positions: {' or '.join(shown)}.",
            hint="Write it with its signs, e.g. 47°15.600′N 011°20.400′E.",
            details={"value": text, "readings": shown},
        )
    return _position(*next(iter(readings)))


def _position(latitude_e7: int, longitude_e7: int) -> Position:
    return Position.from_e7(latitude_e7, (longitude_e7 + 180 * E7) % (360 * E7) - 180 * E7)


def _shown_pair(north: Angle, east: Angle) -> str:
    joint = ", " if Notation.DECIMAL in (north.notation, east.notation) else " "
    return f"{shown_angle(north, Axis.LATITUDE)}{joint}{shown_angle(east, Axis.LONGITUDE)}"


def _refuse(text: str, trouble: Trouble) -> NoReturn:
    code = "ambiguous-position" if trouble.code.startswith("ambiguous") else "bad-position"
    if trouble.code == "ambiguous-letter":
        hint = "Write E or W in its place."
    else:
        hint = f"Write it as {POSITION_FORMS}."
    raise UsageError(
        code,
        f"{text!r} cannot be read as a position: {trouble.message}.",
        hint=hint,
        details={"value": text, "reason": trouble.code},
    )


def decide_pairs(texts: Sequence[str], *, wanted: Notation | None = None, letter_o: str | None = None) -> Decision:
    """Return how to read a column of whole positions, from a sample of its cells. Raises InputError as `decide`."""
    filled = [text for text in texts if text.strip()]
    if wanted is None:
        whole = [whole_notation(text) for text in filled]
        counts = {notation: whole.count(notation) for notation in WHOLE}
        best = max(WHOLE, key=lambda notation: counts[notation])
        if filled and 2 * counts[best] > len(filled):
            return Decision(best)
    elif wanted in WHOLE:
        return Decision(wanted)
    halves, open_rows = [], []
    for text in filled:
        half = split_pair(text, wanted)
        if not isinstance(half, Trouble):
            halves.append(half)
        elif half.code == "ambiguous-position" and half.suggestion is not None:
            open_rows.append((text, half))
    if open_rows:
        text, trouble = open_rows[0]
        raise InputError(
            "ambiguous-notation",
            f"{len(open_rows)} of the positions fit several places: of {text!r}, {trouble.message}.",
            hint=f"Say which with {trouble.suggestion}.",
            details={"value": text, "ways": [way.split(" ") for way in (trouble.suggestion or "").split(" or ")]},
        )
    return decide([half[0] for half in halves], [half[1] for half in halves], wanted=wanted, letter_o=letter_o)


def read_pairs(texts: Sequence[str], decision: Decision) -> PairColumn:
    """Return a column of whole positions read in the decided notation. Never raises; empty text is trouble."""
    column = PairColumn()
    nothing = ReadPair(0, 0, 0, "")
    if decision.notation in WHOLE:
        for i, text in enumerate(texts):
            read = (
                read_whole(text, decision.notation)
                if text.strip()
                else Trouble("missing-value", "there is no position")
            )
            column.pairs.append(nothing if isinstance(read, Trouble) else read)
            if isinstance(read, Trouble):
                column.troubles.append((i, read))
        return column
    halves: list[tuple[str, str]] = []
    told: dict[int, Trouble] = {}
    wanted = decision.notation if decision.bare_packed else None
    for i, text in enumerate(texts):
        half = split_pair(text, wanted) if text.strip() else Trouble("missing-value", "there is no position")
        if isinstance(half, Trouble):
            told[i] = half
        halves.append(("", "") if isinstance(half, Trouble) else half)
    north = read_column([half[0] for half in halves], Axis.LATITUDE, decision)
    east = read_column([half[1] for half in halves], Axis.LONGITUDE, decision)
    for i, trouble in (*north.troubles, *east.troubles):
        told.setdefault(i, trouble)
    column.troubles = sorted(told.items())
    column.by_signs = [*north.by_signs, *east.by_signs]
    column.pairs = [
        ReadPair(n, e, max(nd, ed), *half)
        for n, e, nd, ed, half in zip(
            north.values_e7, east.values_e7, north.decimals, east.decimals, halves, strict=True
        )
    ]
    return column


def format_position(position: Position, notation: Notation, decimals: int | None = None) -> str:
    """Return a position as one text; without `decimals` to about a decimetre (UTM and MGRS: a metre).

    ValueError for UTM and MGRS beyond 80°S and 84°N.
    """
    latitude, longitude = position.latitude_deg, position.longitude_deg
    if notation is Notation.UTM:
        return format_utm(latitude, longitude)
    if notation is Notation.MGRS:
        return format_mgrs(latitude, longitude)
    n, e = position.latitude_e7, position.longitude_e7
    if notation is Notation.GEO_URI:
        places = 7 if decimals is None else decimals
        halves = [format_angle(v, axis, Notation.DECIMAL, places) for v, axis in zip((n, e), Axis, strict=True)]
        return "geo:" + ",".join(h.rstrip("0").rstrip(".") if "." in h else h for h in halves)
    if notation is Notation.ISO6709:
        return _format_iso(n, Axis.LATITUDE, decimals) + _format_iso(e, Axis.LONGITUDE, decimals) + "/"
    standard = {Notation.DECIMAL: 6, Notation.MINUTES: 4, Notation.PACKED_MINUTES: 4}
    places = standard.get(notation, 2) if decimals is None else decimals
    joint = "," if notation is Notation.DECIMAL else " "
    return joint.join(format_angle(v, axis, notation, places) for v, axis in zip((n, e), Axis, strict=True))


def _format_iso(e7: int, axis: Axis, decimals: int | None) -> str:
    """Return the degrees form of ISO 6709: sign, fixed whole digits."""
    text = format_angle(abs(e7), axis, Notation.DECIMAL, 7 if decimals is None else decimals)
    whole, point, fraction = text.partition(".")
    width = 2 if axis is Axis.LATITUDE else 3
    return f"{'-' if e7 < 0 else '+'}{whole:0>{width}}{point}{fraction}"
