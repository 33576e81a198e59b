"""A coordinate whose parts stand in columns of their own, made into one text: `47`, `15,6`, `N` → 47°15,6′N.

Each cell is held to its part: degrees and minutes before another part are whole, minutes and seconds below 60, and a
part that is missing is trouble, since nothing is no zero.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from taskdb.core.notation.angles import LETTER_WORDS, Axis, Trouble, plain_signs
from taskdb.core.numbers import plain_number


class Part(StrEnum):
    """What a column holds of a coordinate; `WHOLE` is all of it but for the hemisphere."""

    WHOLE = "coordinate"
    DEGREES = "degrees"
    MINUTES = "minutes"
    SECONDS = "seconds"
    HEMISPHERE = "hemisphere"


NUMBERS = (Part.DEGREES, Part.MINUTES, Part.SECONDS)
_SIGNS = {Part.DEGREES: "°", Part.MINUTES: "′", Part.SECONDS: "″"}
_CELL = re.compile(
    r"(?P<before>[NSEWOnsewo]?) ?(?P<sign>[+-]?)(?P<whole>\d{1,3})(?:[.,](?P<fraction>\d*))? ?"
    r"(?P<mark>°|'|\"|''|d|m|s|deg|min|sec|Grad|Min|Sek)?\.? ?(?P<after>[NSEWOnsewo]?)"
)
_MARKS = {
    **dict.fromkeys(("°", "d", "deg", "Grad"), Part.DEGREES),
    **dict.fromkeys(("'", "m", "min", "Min"), Part.MINUTES),
    **dict.fromkeys(('"', "''", "s", "sec", "Sek"), Part.SECONDS),
}


@dataclass(frozen=True, slots=True)
class Join:
    """Which columns (from 0) hold which parts of one coordinate; `side` is a hemisphere that holds for all rows."""

    columns: tuple[int, ...]
    parts: tuple[Part, ...]
    side: str | None = None


def letter_of(cell: str) -> str | None:
    """Return the hemisphere letter that a cell consists of (N, S, E, W, O), also for a word; None for anything else."""
    return LETTER_WORDS.get(plain_signs(cell).rstrip(".").lower())


def join_cells(join: Join, columns: Sequence[Sequence[str]], axis: Axis) -> tuple[list[str], list[tuple[int, Trouble]]]:
    """Return one text a row for the columns of a join (in its order), empty where there is trouble, and the troubles.

    Empty in all columns is an empty text without trouble.
    """
    texts: list[str] = []
    troubles: list[tuple[int, Trouble]] = []
    for i, cells in enumerate(zip(*columns, strict=True)):
        text = _joined(join, cells, axis)
        if isinstance(text, Trouble):
            troubles.append((i, text))
            text = ""
        texts.append(text)
    return texts, troubles


def _joined(join: Join, cells: Sequence[str], axis: Axis) -> str | Trouble:
    given = {part: plain_signs(cell) for part, cell in zip(join.parts, cells, strict=True)}
    if not any(given.values()):
        return ""
    for part, cell in given.items():
        if not cell:
            advice = "" if part is Part.HEMISPHERE else "; write 0 where there are none"
            return Trouble("missing-part", f"there is no {part.value} of the {axis.value}{advice}")
    letter = join.side
    if Part.HEMISPHERE in given:
        letter = letter_of(given[Part.HEMISPHERE])
        if letter is None or letter not in (axis.letters if axis is Axis.LATITUDE else "EWO"):
            letters = " or ".join(axis.letters)
            return Trouble(
                "bad-hemisphere", f"{given[Part.HEMISPHERE]!r} is no hemisphere of a {axis.value}: {letters}"
            )
    if join.side is not None and any(cell.startswith("-") for cell in given.values()):
        return Trouble("bad-sign", f"it has a minus sign, and the header says {join.side}")
    if Part.WHOLE in given:
        return _with_letter(given[Part.WHOLE], letter)
    return _of_numbers([(part, given[part]) for part in NUMBERS if part in given], letter)


def _with_letter(text: str, letter: str | None) -> str | Trouble:
    """Return a whole coordinate with its hemisphere; a minus sign that says the same is left out."""
    own = re.search(r"(?<![^\W\d_])[NSEWO](?![^\W\d_])", text.upper())
    if letter is None or (own is not None and own[0] == letter):
        return text
    if own is not None or (text[:1] == "-" and letter in "NEO"):
        return Trouble("bad-sign", f"{text!r} and the letter {letter} contradict each other")
    return plain_number(text).lstrip("+-") + letter


def _of_numbers(given: Sequence[tuple[Part, str]], letter: str | None) -> str | Trouble:
    """Return degrees, minutes and seconds as one text with their signs."""
    text, letters = "", letter or ""
    is_negative = is_positive = False
    for at, (part, cell) in enumerate(given):
        match = _CELL.fullmatch(plain_number(cell))
        trouble = _part_trouble(part, cell, match, None if at == len(given) - 1 else given[at + 1][0])
        if match is None or trouble is not None:
            return trouble or Trouble("bad-part", cell)
        own = (match["before"] + match["after"]).upper()
        if own and letters and own != letters:
            return Trouble("bad-sign", f"{cell!r} and the letter {letters} contradict each other")
        letters = letters or own
        if match["sign"] == "-":
            # A program that splits -33.9 gives every part its sign, and -0.5 is 0 and -30; 33 and -54 is neither.
            if is_positive:
                return Trouble("bad-sign", f"{cell!r} {part.value} have a minus sign, and the degrees have none")
            is_negative = True
        elif match["whole"].strip("0") or (match["fraction"] or "").strip("0"):
            is_positive = is_positive or not is_negative
        fraction = match["fraction"] if at == len(given) - 1 else None
        point = "," if "," in cell else "."
        text += f"{match['whole']}{point + fraction if fraction else ''}{_SIGNS[part]}"
    if not is_negative:
        return text + letters
    if letters in ("N", "E", "O"):
        return Trouble("bad-sign", f"a minus sign and the letter {letters} contradict each other")
    return text + letters if letters else "-" + text


def _part_trouble(part: Part, cell: str, match: re.Match[str] | None, following: Part | None) -> Trouble | None:
    """Say what is wrong with the cell of a part."""
    if match is None or _MARKS.get(match["mark"] or "", part) is not part:
        return Trouble("bad-part", f"{cell!r} is no number of {part.value}")
    if following is not None and (match["fraction"] or "").strip("0"):
        return Trouble("bad-part", f"{cell!r} {part.value} have decimals, and {following.value} follow")
    if part is not Part.DEGREES and int(match["whole"]) >= 60:
        return Trouble(f"{part.value}-60", f"{cell} {part.value} do not exist; {part.value} go from 0 to below 60")
    return None


def cells_of(text: str, parts: Sequence[Part]) -> tuple[str, ...]:
    """Return the cells of which `join_cells` made a text, in the order of the parts; empty ones for another text."""
    letter = re.search(r"[NSEWO]", text)
    numbers = re.findall(r"[+-]?\d+(?:[.,]\d+)?", text)
    count = sum(part is not Part.HEMISPHERE for part in parts)
    if Part.WHOLE in parts:
        numbers = [text.rstrip("NSEWO")]
    if len(numbers) != count:
        return ("",) * len(parts)
    ordered = dict(zip([part for part in (Part.WHOLE, *NUMBERS) if part in parts], numbers, strict=True))
    return tuple((letter[0] if letter else "") if part is Part.HEMISPHERE else ordered[part] for part in parts)
