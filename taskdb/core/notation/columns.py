"""Decide in which notation a column of coordinates is written, and read it: bare digits as the column, never by row.

Where the rows fit two notations that give different places, nothing is read: both readings and the option that
decides are named. A row in another notation is read where its own signs leave no doubt, else it is a trouble.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import NoReturn

from taskdb.core.model import E7
from taskdb.core.notation.angles import O_IS_TWO, Angle, Axis, Notation, Trouble, read_angle, shown_angle
from taskdb.errors import InputError

PAIRED = (Notation.DECIMAL, Notation.MINUTES, Notation.SECONDS, Notation.PACKED_MINUTES, Notation.PACKED_SECONDS)
O_OPTIONS = "--letter-o east or --letter-o west"
_OTHER_FITS_AT_MOST = 0.8
"""Minutes without their point read as seconds in 36 % of rows by chance; above this share it is not decided."""


@dataclass(frozen=True, slots=True)
class Decision:
    """How a pair of columns is read: the notation, and what a lone O means (`E`, `W`, or None where it is refused)."""

    notation: Notation
    letter_o: str | None = None
    bare_packed: bool = False


@dataclass(slots=True)
class ColumnReading:
    """A column as read: 1e-7 degrees and decimals per row (0 where there is trouble), and the troubles by index.

    `by_signs` are the rows in another notation than the column's, read by their own signs.
    """

    values_e7: list[int]
    decimals: list[int]
    troubles: list[tuple[int, Trouble]]
    by_signs: list[int] = field(default_factory=list)


def decide_letter_o(longitudes: Sequence[str], told: str | None) -> str | None:
    """Return what O means in a column: as told, else the side that no other letter of the column names, else None.

    A German list may have E beside O, and both are east: where the longitudes under both letters lie nearer to each
    other than to Greenwich, nothing is decided.
    """
    if told is not None:
        return told
    letters = {letter for text in longitudes for letter in re.findall(r"(?<![^\W\d_])[EWOewo](?![^\W\d_])", text)}
    upper = {letter.upper() for letter in letters}
    if "O" in upper and ("E" in upper) != ("W" in upper):
        sides: dict[bool, list[int]] = {True: [], False: []}
        for text in longitudes:
            number = re.search(r"\d{1,3}", text)
            letter = re.search(r"(?<![^\W\d_])[EWO](?![^\W\d_])", text.upper())
            if number is not None and letter is not None:
                sides[letter[0] == "O"].append(int(number[0]))
        nearest_degrees = min((abs(o - other) for o in set(sides[True]) for other in set(sides[False])), default=180)
        if 4 * (nearest_degrees + 1) < min(sides[True], default=0) + min(sides[False], default=0):
            return None
        return "W" if "E" in upper else "E"
    return None


def decide(
    latitudes: Sequence[str],
    longitudes: Sequence[str],
    *,
    wanted: Notation | None = None,
    letter_o: str | None = None,
) -> Decision:
    """Return how to read two columns, from a sample of their rows (empty cells are left aside).

    Raises InputError `ambiguous-notation` or `ambiguous-letter` with the readings and the option that decides.
    A sample without any readable row gives decimal degrees: each row then says itself what is wrong.
    """
    side = decide_letter_o(longitudes, letter_o)
    if wanted is not None:
        return Decision(wanted, side, bare_packed=True)
    fits: Counter[Notation] = Counter()
    rivals: dict[frozenset[Notation], tuple[str, Angle, Angle]] = {}
    rows = o_refused = 0
    bare: list[tuple[str, Axis]] = []
    cells = chain(((text, Axis.LATITUDE) for text in latitudes), ((text, Axis.LONGITUDE) for text in longitudes))
    for text, axis in cells:
        if not text:
            continue
        readings = read_angle(text, axis, letter_o=side)
        if isinstance(readings, Trouble):
            o_refused += readings.code == "ambiguous-letter"
            if readings.code == "missing-letter":
                bare.append((text, axis))
            continue
        rows += 1
        for notation in PAIRED:
            fits[notation] += any(angle.fits(notation) for angle in readings)
        if len(readings) > 1 and readings[0].e7 != readings[1].e7:
            rivals.setdefault(frozenset(a.notation for a in readings), (text, readings[0], readings[1]))
    if o_refused and 2 * o_refused >= rows:
        raise InputError(
            "ambiguous-letter",
            f"The longitudes have the letter O: {O_IS_TWO}.",
            hint=f"Say which with {O_OPTIONS}.",
            details={"ways": [["--letter-o", "east"], ["--letter-o", "west"]]},
        )
    if len(bare) > rows:
        _refuse_bare(bare)
    return Decision(_choose(fits, rivals, rows), side)


def _refuse_bare(bare: Sequence[tuple[str, Axis]]) -> NoReturn:
    """Refuse digits without letters, with the notations that most of them fit."""
    fits: Counter[Notation] = Counter()
    for text, axis in bare:
        readings = read_angle(text, axis, bare_packed=True)
        # More digits than DDMMSS have lost a point somewhere: what was before it, nobody knows.
        whole = len(text.lstrip("+-").partition(".")[0].partition(",")[0])
        if not isinstance(readings, Trouble) and whole <= (6 if axis is Axis.LATITUDE else 7):
            fits.update({angle.notation for angle in readings})
    likely = [notation for notation in PAIRED if 2 * fits[notation] > len(bare)]
    ways = [["--notation", notation.value] for notation in likely]
    shown = " or ".join(" ".join(way) for way in ways)
    raise InputError(
        "ambiguous-notation",
        f"The coordinates are digits without a letter, as {bare[0][0]!r}: degrees, minutes or seconds packed together.",
        hint=f"Say which with {shown}." if ways else "Write them with a decimal point, or with ° ′ ″ and a letter.",
        details={"value": bare[0][0], "notations": [notation.value for notation in likely], "ways": ways},
    )


def _choose(
    fits: Counter[Notation], rivals: dict[frozenset[Notation], tuple[str, Angle, Angle]], rows: int
) -> Notation:
    if not rows:
        return Notation.DECIMAL
    best = max(PAIRED, key=lambda notation: (fits[notation], -PAIRED.index(notation)))
    for pair, (text, first, second) in rivals.items():
        if best not in pair:
            continue
        (other,) = pair - {best}
        if rows - fits[other] >= 2 and fits[other] <= _OTHER_FITS_AT_MOST * fits[best]:
            continue
        axis = Axis.LONGITUDE if (first.letter or "N") in "EWO" else Axis.LATITUDE
        shown = [f"{angle.notation.value} {shown_angle(angle, axis)}" for angle in (first, second)]
        raise InputError(
            "ambiguous-notation",
            f"The coordinates fit two notations: {text!r} is {shown[0]} or {shown[1]}.",
            hint=f"Say which with --notation {first.notation.value} or --notation {second.notation.value}.",
            details={
                "value": text,
                "notations": [first.notation.value, second.notation.value],
                "ways": [["--notation", first.notation.value], ["--notation", second.notation.value]],
            },
        )
    return best


_ALL_DECIMAL = re.compile(r"[+-]?[0-9]{1,3}(?:\.[0-9]++)?(?:\n[+-]?[0-9]{1,3}+(?:\.[0-9]++)?)*+").fullmatch
_DECIMAL = re.compile(r"([+-]?)(\d{1,3}(?:[.,](\d+))?)")
_MINUTES = re.compile(r"([NSEW]?) ?(\d{1,3})[°: ] ?(\d{1,2}(?:[.,](\d+))?)['′]? ?([NSEW]?)")
_SECONDS = re.compile(r"([NSEW]?) ?(\d{1,3})[°: ] ?(\d{1,2})['′: ] ?(\d{1,2}(?:[.,](\d+))?)[\"″]? ?([NSEW]?)")
_FORMS = {
    Notation.MINUTES: dict.fromkeys(Axis, _MINUTES),
    Notation.SECONDS: dict.fromkeys(Axis, _SECONDS),
    Notation.PACKED_MINUTES: {
        Axis.LATITUDE: re.compile(r"([NS]?)(\d\d)(\d\d(?:[.,](\d+))?)([NS]?)"),
        Axis.LONGITUDE: re.compile(r"([EW]?)(\d\d\d)(\d\d(?:[.,](\d+))?)([EW]?)"),
    },
    Notation.PACKED_SECONDS: {
        Axis.LATITUDE: re.compile(r"([NS]?)(\d\d)(\d\d)(\d\d(?:[.,](\d+))?)([NS]?)"),
        Axis.LONGITUDE: re.compile(r"([EW]?)(\d\d\d)(\d\d)(\d\d(?:[.,](\d+))?)([EW]?)"),
    },
}


def read_column(texts: Sequence[str], axis: Axis, decision: Decision, *, among_many: bool = False) -> ColumnReading:
    """Return a column of latitudes or longitudes read in the decided notation. Never raises; empty text is trouble.

    `among_many`: it is a part of so many that numpy pays, which gives the same.
    """
    reading = ColumnReading([0] * len(texts), [0] * len(texts), [])
    if decision.notation is Notation.DECIMAL:
        _read_decimals(texts, axis, decision, reading)
    elif decision.notation in _FORMS:
        _read_parts(texts, axis, decision, reading, _FORMS[decision.notation][axis], among_many=among_many)
    else:
        raise ValueError(f"{decision.notation} is no notation of a single coordinate")
    return reading


def _read_decimals(texts: Sequence[str], axis: Axis, decision: Decision, reading: ColumnReading) -> None:
    joined = "\n".join(texts)
    if joined.count("\n") == len(texts) - 1 and _ALL_DECIMAL(joined):
        # Nothing but plain numbers: no cell needs a look of its own unless one is out of range.
        values = [round(float(text) * E7) for text in texts]
        limit = axis.limit_deg * E7
        if max(values) <= limit and min(values) >= -limit:
            reading.values_e7 = values
            reading.decimals = [len(text.rstrip("0")) - text.find(".") - 1 if "." in text else 0 for text in texts]
            return
    values, decimals = reading.values_e7, reading.decimals
    match_of, limit = _DECIMAL.fullmatch, axis.limit_deg * E7
    for i, text in enumerate(texts):
        match = match_of(text)
        if match is not None:
            sign, number, fraction = match.groups()
            value = round(float(number.replace(",", ".")) * E7)
            if value <= limit:
                values[i] = -value if sign == "-" else value
                if fraction:
                    decimals[i] = len(fraction.rstrip("0"))
                continue
        _read_slowly(i, text, axis, decision, reading)


def _read_parts(
    texts: Sequence[str],
    axis: Axis,
    decision: Decision,
    reading: ColumnReading,
    form: re.Pattern[str],
    *,
    among_many: bool,
) -> None:
    """Read degrees with minutes, or with minutes and seconds, in the form in which the column's cells are written."""
    shape = _Shape.of(texts, axis, form)
    if shape is not None and among_many:
        from taskdb.core.notation.cells_by_place import read_by_place

        read = read_by_place(shape, axis)
        if read is not None:
            reading.values_e7, reading.decimals = read
            return
    if shape is not None and shape.give(shape.values_e7(), axis, reading):
        return
    values, decimals = reading.values_e7, reading.decimals
    match_of, limit, letters = form.fullmatch, axis.limit_deg * E7, axis.letters
    for i, text in enumerate(texts):
        match = match_of(text)
        if match is not None:
            before, whole, minutes, *last, fraction, after = match.groups()
            letter, size = before or after, float(minutes.replace(",", "."))
            over = float(last[0].replace(",", ".")) if last else 0.0
            value = round((int(whole) + size / 60.0 + over / 3600.0) * E7)
            # Anything unusual (both letters, another axis's letter, 60 minutes) goes the slow way, which explains it.
            if letter in letters and letter and not (before and after) and size < 60 and over < 60 and value <= limit:
                values[i] = -value if letter in "SW" else value
                if fraction:
                    decimals[i] = len(fraction.rstrip("0"))
                continue
        _read_slowly(i, text, axis, decision, reading)


@dataclass(frozen=True, slots=True)
class _Shape:
    """A column in which every cell has its digits, its letter and its marks where the first one has them.

    Such a column, as most programs write it, is cut by place, in half the time of matching one cell after another.
    `texts` have a point for a decimal comma.
    """

    texts: Sequence[str]
    parts: Sequence[tuple[int, int]]
    fraction: tuple[int, int]
    has_negative: bool
    letter: int

    @staticmethod
    def of(texts: Sequence[str], axis: Axis, form: re.Pattern[str]) -> _Shape | None:
        """Return the shape of a column; None where it has none, or a cell has 60 minutes, no letter or both."""
        first = texts[0] if texts else ""
        match = form.fullmatch(first)
        if match is None or bool(match[1]) == bool(match.groups()[-1]):
            return None
        letter = match.start(1) if match[1] else match.end() - 1
        count = form.groups - 3  # the letters on both sides and the fraction are no parts
        parts = [match.span(2 + i) for i in range(count)]
        tens = {start for start, end in parts[1:] if first[start + 1 : end][:1].isdigit()}
        line = "".join(
            f"[{axis.letters}]" if i == letter else "[0-5]" if i in tens else "[0-9]" if c.isdigit() else re.escape(c)
            for i, c in enumerate(first)
        )
        joined = "\n".join(texts)
        if re.compile(f"(?:{line}\n)*+{line}").fullmatch(joined + "\n" + first) is None:
            return None
        cells = joined.replace(",", ".").split("\n") if "," in first else texts
        return _Shape(cells, parts, match.span(2 + count), axis.letters[1] in joined, letter)

    def values_e7(self) -> list[int]:
        """Return the value of each cell, 1e-7 degrees, without its side."""
        (a, b), (c, d), *last = self.parts
        if not last:
            return [round((int(text[a:b]) + float(text[c:d]) / 60.0) * E7) for text in self.texts]
        e, f = last[0]
        return [round((int(text[a:b]) + int(text[c:d]) / 60.0 + float(text[e:f]) / 3600.0) * E7) for text in self.texts]

    def give(self, values: list[int], axis: Axis, reading: ColumnReading) -> bool:
        """Give the values to a reading, unless one is out of range: then the cells are looked at one by one."""
        if max(values) > axis.limit_deg * E7:
            return False
        at, (start, end) = self.letter, self.fraction
        if self.has_negative:
            pairs = zip(values, self.texts, strict=True)
            values = [-value if text[at] in "SW" else value for value, text in pairs]
        reading.values_e7 = values
        reading.decimals = [
            end - start if end > start and text[end - 1] != "0" else len(text[start:end].rstrip("0"))
            for text in self.texts
        ]
        return True


def _read_slowly(i: int, text: str, axis: Axis, decision: Decision, reading: ColumnReading) -> None:
    """Read one cell by the full grammar, in the decided notation only."""
    if not text.strip():
        reading.troubles.append((i, Trouble("missing-value", f"there is no {axis.value}")))
        return
    readings = read_angle(text, axis, letter_o=decision.letter_o, bare_packed=decision.bare_packed)
    if isinstance(readings, Trouble):
        if readings.code == "ambiguous-letter":
            readings = Trouble(readings.code, f"{O_IS_TWO}; say which with {O_OPTIONS}")
        reading.troubles.append((i, readings))
        return
    for angle in readings:
        if angle.fits(decision.notation):
            reading.values_e7[i], reading.decimals[i] = angle.e7, angle.decimals
            return
    if len(readings) == 1 and readings[0].is_clear:
        reading.values_e7[i], reading.decimals[i] = readings[0].e7, readings[0].decimals
        reading.by_signs.append(i)
        return
    found = " or ".join(angle.notation.value for angle in readings)
    message = f"it reads as {found}, and the column is in {decision.notation.value}; write it with its signs (° ′ ″)"
    reading.troubles.append((i, Trouble("other-notation", message)))
