"""One latitude or longitude as text: every reading that it allows, or what is wrong with it. Never guesses.

Knows signed decimal degrees, degrees and minutes, degrees minutes and seconds, and the packed digits of aeronautical
publications (DDMM.mmm, DDMMSS). Which of several readings is meant is decided for a whole column in `columns`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from taskdb.core.model import E7
from taskdb.core.numbers import plain_number


class Notation(StrEnum):
    """How a position is written. The first five can be told for a latitude alone, the others for a pair."""

    DECIMAL = "decimal-degrees"
    MINUTES = "degrees-minutes"
    SECONDS = "degrees-minutes-seconds"
    PACKED_MINUTES = "packed-minutes"
    PACKED_SECONDS = "packed-seconds"
    ISO6709 = "iso6709"
    GEO_URI = "geo-uri"
    UTM = "utm"
    MGRS = "mgrs"


EXAMPLES = {
    Notation.DECIMAL: "47.2600000",
    Notation.MINUTES: "47°15.600′N",
    Notation.SECONDS: "47°15′36.0″N",
    Notation.PACKED_MINUTES: "4715.600N",
    Notation.PACKED_SECONDS: "471536N",
    Notation.ISO6709: "+4715.600+01120.400/",
    Notation.GEO_URI: "geo:47.26,11.34",
    Notation.UTM: "32T 677007 5236726",
    Notation.MGRS: "32TPT7700736726",
}

PARTS = {
    Notation.DECIMAL: 1,
    Notation.MINUTES: 2,
    Notation.SECONDS: 3,
    Notation.PACKED_MINUTES: 2,
    Notation.PACKED_SECONDS: 3,
}
"""How many parts an angle has: degrees; degrees and minutes; degrees, minutes and seconds."""


SPELLED_OUT = {Notation.PACKED_MINUTES: Notation.MINUTES, Notation.PACKED_SECONDS: Notation.SECONDS}
"""In which notation a packed one is shown to people."""


class Axis(StrEnum):
    LATITUDE = "latitude"
    LONGITUDE = "longitude"

    @property
    def limit_deg(self) -> int:
        return 90 if self is Axis.LATITUDE else 180

    @property
    def letters(self) -> str:
        return "NS" if self is Axis.LATITUDE else "EW"


@dataclass(frozen=True, slots=True)
class Angle:
    """One reading: its notation, the signed value in 1e-7 degree, and how many decimals its last part was given with.

    `parts` counts what was written (degrees; minutes; seconds). `letter` is the hemisphere letter N, S, E, W or O.
    `is_clear` where its own signs (°, ′, ″, a letter) leave nothing else that it could be, whatever its column is in.
    """

    notation: Notation
    e7: int
    decimals: int
    parts: int
    letter: str | None = None
    is_clear: bool = False

    def fits(self, notation: Notation) -> bool:
        """Say whether the text can stand in a column of `notation`: whole degrees stand in a column of minutes."""
        if self.notation is notation:
            return True
        if (self.notation in SPELLED_OUT) != (notation in SPELLED_OUT):
            return False
        return self.decimals == 0 and self.parts < PARTS.get(notation, 0)


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a text is no coordinate: a stable code, a sentence without the text itself, and a mend where one is safe."""

    code: str
    message: str
    suggestion: str | None = None


LETTER_WORDS = {
    **dict.fromkeys(("n", "north", "nord", "norte", "noord", "norra"), "N"),
    **dict.fromkeys(("s", "south", "süd", "sued", "sud", "sur", "sul", "zuid", "syd"), "S"),
    **dict.fromkeys(("e", "east", "est", "este", "ost", "öst", "øst", "oost", "leste"), "E"),
    **dict.fromkeys(("w", "west", "ouest", "oeste", "ovest", "väst", "vest"), "W"),
    "o": "O",
}
"""Hemisphere letters and words. A lone O is east in German and west in the Romance languages: it stays O here."""

O_IS_TWO = "O is east in German and west in French, Italian and Spanish"

_MARK_WORDS = {
    **dict.fromkeys(("d", "deg", "degs", "degree", "degrees", "grad", "°"), "d"),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes", "minuten"), "m"),
    **dict.fromkeys(("sec", "secs", "sek", "second", "seconds", "sekunden"), "s"),
}
_AXIS_WORDS = {
    **dict.fromkeys(("lat", "latitude", "breite", "b"), Axis.LATITUDE),
    **dict.fromkeys(("lon", "long", "lng", "longitude", "länge", "l"), Axis.LONGITUDE),
}
_SIGNS = str.maketrans(
    {
        **dict.fromkeys("\u00a0\u2007\u2009\u200a\u202f\u2002\u2003\t", " "),
        **dict.fromkeys("−‐‑‒–—﹣－", "-"),
        **dict.fromkeys("º˚∘", "°"),
        **dict.fromkeys("′’‘´`ʹʼ‛", "'"),
        **dict.fromkeys("″”“„ʺ‟", '"'),
        "＋": "+",
        "\ufeff": "",
        "\u200b": "",
    }
)
_TOKEN = re.compile(
    r"(?P<number>\d+(?:[.,]\d+|\.(?=['\"°]))?|[.,]\d+)|(?P<mark>''|[°'\":])|(?P<sign>[+-])|(?P<word>[^\W\d_]+\.?)|(?P<blank>\s+)"
)
_SYMBOL_MARKS = {"°": "d", "'": "m", '"': "s", "''": "s"}


def plain_signs(text: str) -> str:
    """Return `text` with the many blanks, dashes, degree, minute and second signs in their ASCII or Latin-1 form."""
    return text.translate(_SIGNS).strip()


@dataclass(slots=True)
class _Scan:
    """What a text consists of: numbers with the mark after each, letters before and after, a sign."""

    numbers: list[str]
    marks: list[str]
    letters: list[str]
    sign: str = ""
    seconds_or_south: bool = False
    is_closed: bool = False
    """A hemisphere letter stood behind the number: no more of it may follow."""


def _scan(text: str, axis: Axis) -> _Scan | Trouble:
    """Split a text into its pieces, or say what stands there that belongs to no coordinate."""
    scan = _Scan([], [], [])
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            return Trouble("bad-coordinate", f"{text[at]!r} has no place in a {axis.value}")
        at, kind, token = match.end(), match.lastgroup, match[0]
        if kind == "number":
            if scan.is_closed:
                return Trouble("bad-coordinate", "a letter stands in the middle of the number")
            scan.numbers.append(token.replace(",", "."))
            scan.marks.append("")
        elif kind == "mark":
            mark = _SYMBOL_MARKS.get(token, ":")
            if not scan.numbers or scan.marks[-1]:
                return Trouble("bad-coordinate", f"the sign {token} stands in the wrong place")
            scan.marks[-1] = mark
        elif kind == "sign":
            if not scan.numbers:
                if scan.sign or (scan.letters and token == "-"):
                    return Trouble("bad-sign", "a minus sign beside a letter, or two signs, contradict each other")
                scan.sign = token
            elif token == "-" and not scan.marks[-1]:
                scan.marks[-1] = "-"
            else:
                return Trouble("bad-sign", "a sign stands in the middle of the number")
        elif kind == "word":
            trouble = _take_word(scan, token.rstrip("."), axis)
            if trouble is not None:
                return trouble
    if not scan.numbers:
        return Trouble("bad-coordinate", f"there is no number in it; expected a {axis.value}, e.g. {_example(axis)}")
    return scan


def _take_word(scan: _Scan, word: str, axis: Axis) -> Trouble | None:
    lowered = word.lower()
    numbers = len(scan.numbers)
    if lowered == "s" and numbers == 3 and not scan.marks[-1] and "d" in scan.marks + scan.letters:
        # After `47d15m36` an s closes the seconds; after `47°15'36` or written S it may as well be south.
        if word == "s":
            scan.marks[-1] = "s"
        else:
            scan.seconds_or_south = True
            scan.letters.append("S")
        return None
    mark = _MARK_WORDS.get(lowered)
    if mark is not None and numbers and not scan.marks[-1]:
        scan.marks[-1] = mark
        return None
    letter = LETTER_WORDS.get(lowered)
    if letter is not None:
        scan.letters.append(letter)
        scan.is_closed = bool(scan.numbers)
        return None
    named = _AXIS_WORDS.get(lowered)
    if named is not None and not numbers:
        return (
            None if named is axis else Trouble("exchanged", f"it says {word} and stands where a {axis.value} belongs")
        )
    return Trouble("bad-coordinate", f"{word!r} has no place in a {axis.value}")


def _example(axis: Axis) -> str:
    return "47.26, 47°15.600′N or 471536N" if axis is Axis.LATITUDE else "11.34, 011°20.400′E or 0112024E"


def _hemisphere(scan: _Scan, axis: Axis, letter_o: str | None) -> tuple[int, str | None] | Trouble:
    """Return the sign, 1 or -1, and the letter as written; O needs to be told which side it is."""
    if scan.seconds_or_south and len(scan.letters) == 1:
        return Trouble("ambiguous-south", "the S may close the seconds or mean south; write N or S apart from it")
    letters = [x for i, x in enumerate(scan.letters) if not (scan.seconds_or_south and x == "S" and i == 0)]
    if len(letters) > 1:
        return Trouble("bad-coordinate", f"it has {len(letters)} hemisphere letters")
    if not letters:
        return (-1 if scan.sign == "-" else 1), None
    letter = letters[0]
    if scan.sign == "-":
        return Trouble("bad-sign", f"a minus sign and the letter {letter} contradict each other; keep one of them")
    if letter == "O":
        if axis is Axis.LATITUDE:
            return Trouble("exchanged", "the letter O belongs to a longitude")
        if letter_o is None:
            return Trouble("ambiguous-letter", O_IS_TWO)
        return (1 if letter_o == "E" else -1), "O"
    if letter not in axis.letters:
        return Trouble("exchanged", f"the letter {letter} does not belong to a {axis.value}")
    return (1 if letter in "NE" else -1), letter


def _decimals(number: str) -> int:
    return len(number.partition(".")[2].rstrip("0"))


def _value(parts: list[str], axis: Axis, sign: int) -> int | Trouble:
    """Return 1e-7 degrees for degrees, minutes and seconds as text; each but the last whole and in its range."""
    for part in parts[:-1]:
        if "." in part:
            return Trouble("bad-coordinate", f"only the last part may have decimals, and {part} stands before another")
    for part, name in zip(parts[1:], ("minutes", "seconds"), strict=False):
        if float(part) >= 60:
            return Trouble(f"{name}-60", f"{part} {name} do not exist; {name} go from 0 to below 60")
    degrees = float(parts[0])
    for part, share in zip(parts[1:], (60.0, 3600.0), strict=False):
        degrees += float(part) / share
    if degrees > axis.limit_deg:
        return Trouble(
            "out-of-range", f"{degrees:g} degrees are beyond the {axis.limit_deg} that a {axis.value} can have"
        )
    return sign * round(degrees * E7)


def read_angle(
    text: str, axis: Axis, *, letter_o: str | None = None, bare_packed: bool = False
) -> tuple[Angle, ...] | Trouble:
    """Return every reading of a latitude or longitude, at least one, or what is wrong with it.

    `letter_o` says what a lone O means (`E` or `W`); `bare_packed` allows packed digits without letter or sign, which
    otherwise are refused because they fit several notations. Never raises.
    """
    scan = _scan(plain_number(plain_signs(text)), axis)
    if isinstance(scan, Trouble):
        return scan
    side = _hemisphere(scan, axis, letter_o)
    if isinstance(side, Trouble):
        return side
    sign, letter = side
    numbers = scan.numbers
    if len(numbers) == 1 and not scan.marks[0] and len(numbers[0].partition(".")[0]) > 3:
        return _read_packed(numbers[0], axis, sign, letter, told=bare_packed or letter is not None or bool(scan.sign))
    if len(numbers) > 3:
        return Trouble("bad-coordinate", f"it has {len(numbers)} numbers; a {axis.value} has at most three")
    for mark, wanted in zip(scan.marks, "dms", strict=False):
        if mark in "dms" and mark and mark != wanted:
            return Trouble("bad-coordinate", "its signs for degrees, minutes and seconds are not in that order")
    if len(numbers[0].partition(".")[0]) > 3 or any(len(n.partition(".")[0]) > 2 for n in numbers[1:]):
        return Trouble("bad-coordinate", "a part of it has too many digits")
    value = _value(numbers, axis, sign)
    if isinstance(value, Trouble):
        return value
    notation = (Notation.DECIMAL, Notation.MINUTES, Notation.SECONDS)[len(numbers) - 1]
    return (Angle(notation, value, _decimals(numbers[-1]), len(numbers), letter, _is_clear(scan, letter)),)


def _is_clear(scan: _Scan, letter: str | None) -> bool:
    """Say whether signs tell what each number is. A blank may be a lost point, and `47.15N` degrees or minutes."""
    if any(mark and mark in "dms" for mark in scan.marks):
        return True
    if letter is None:
        return False
    fraction = scan.numbers[-1].partition(".")[2]
    if len(scan.numbers) == 1:
        return len(fraction) > 2 or fraction[:2] >= "60"
    return len(scan.numbers) == 3 or bool(fraction)


def _read_packed(number: str, axis: Axis, sign: int, letter: str | None, *, told: bool) -> tuple[Angle, ...] | Trouble:
    """Read DDMM.mmm, DDMMSS.s, or the same without their point, which may fit both."""
    whole, dot, fraction = number.partition(".")
    wide = 2 if axis is Axis.LATITUDE else 3
    over = len(whole) - wide
    if over > 8:
        return Trouble("bad-digits", f"{len(whole)} digits are too many for a {axis.value}")
    splits: list[tuple[Notation, list[str]]] = []
    degrees, rest = whole[:wide], whole[wide:]
    if dot:
        if over == 2:
            splits.append((Notation.PACKED_MINUTES, [degrees, f"{rest}.{fraction}"]))
        elif over == 4:
            splits.append((Notation.PACKED_SECONDS, [degrees, rest[:2], f"{rest[2:]}.{fraction}"]))
    elif over == 2:
        splits.append((Notation.PACKED_MINUTES, [degrees, rest]))
    elif over == 4:
        splits.append((Notation.PACKED_SECONDS, [degrees, rest[:2], rest[2:]]))
    elif over > 4:
        splits.append((Notation.PACKED_MINUTES, [degrees, f"{rest[:2]}.{rest[2:]}"]))
        splits.append((Notation.PACKED_SECONDS, [degrees, rest[:2], f"{rest[2:4]}.{rest[4:]}"]))
    if not splits:
        return Trouble(
            "bad-digits",
            f"{len(whole)} digits{' before the point' if dot else ''} fit no {axis.value}: "
            f"write {'DDMM.mmm or DDMMSS' if wide == 2 else 'DDDMM.mmm or DDDMMSS'}, leading zeros included",
        )
    readings: list[Angle] = []
    trouble: Trouble | None = None
    for notation, parts in splits:
        value = _value(parts, axis, sign)
        if isinstance(value, Trouble):
            trouble = trouble or value
        else:
            readings.append(Angle(notation, value, _decimals(parts[-1]), len(parts), letter, bool(letter and dot)))
    if not readings:
        return trouble or Trouble("bad-digits", "its digits fit no notation")
    if not told:
        return Trouble(
            "missing-letter",
            f"digits without {axis.letters[0]} or {axis.letters[1]} may be degrees, minutes or seconds packed together",
        )
    return tuple(readings)


def shown_angle(angle: Angle, axis: Axis) -> str:
    """Return a reading for people, with its signs and as many decimals as were typed."""
    return format_angle(angle.e7, axis, SPELLED_OUT.get(angle.notation, angle.notation), angle.decimals)


def format_angle(e7: int, axis: Axis, notation: Notation, decimals: int) -> str:
    """Return a latitude or longitude, 1e-7 degrees, in one of the first five notations. Carries, never prints 60."""
    places = PARTS[notation] - 1
    scale = 60**places * 10**decimals
    total = (2 * abs(e7) * scale + E7) // (2 * E7)
    width = 2 if axis is Axis.LATITUDE else 3
    letter = axis.letters[1] if e7 < 0 and total else axis.letters[0]
    rest, fraction = divmod(total, 10**decimals)
    point = f".{fraction:0{decimals}d}" if decimals else ""
    if notation is Notation.DECIMAL:
        return f"{'-' if e7 < 0 and total else ''}{rest}{point}"
    if places == 1:
        degrees, minutes = divmod(rest, 60)
        if notation is Notation.PACKED_MINUTES:
            return f"{degrees:0{width}d}{minutes:02d}{point}{letter}"
        return f"{degrees:0{width}d}°{minutes:02d}{point}′{letter}"
    minutes, seconds = divmod(rest, 60)
    degrees, minutes = divmod(minutes, 60)
    if notation is Notation.PACKED_SECONDS:
        return f"{degrees:0{width}d}{minutes:02d}{seconds:02d}{point}{letter}"
    return f"{degrees:0{width}d}°{minutes:02d}′{seconds:02d}{point}″{letter}"
