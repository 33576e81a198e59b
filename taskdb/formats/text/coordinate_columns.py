"""What a column's header and its cells each say of a coordinate.

A header: which axis, which part, which side, in several languages, run together or apart. Cells: letters of a
hemisphere, numbers, whole numbers, text. A header alone decides nothing here: `Lat S` is seconds or south, and its
cells tell. That is for `parts` to see.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from taskdb.core.names import fold
from taskdb.core.notation import Axis
from taskdb.core.notation.angles import LETTER_WORDS, plain_signs
from taskdb.core.notation.joined import Part, letter_of
from taskdb.core.numbers import plain_number

_AXIS_WORDS = {
    Axis.LATITUDE: "lat latitude latitud latitudine breite breiten breitengrad breitengrade breddegrad "
    "breddgrad bredde bredd breedte breedtegraad szerokosc szer leveysaste leveys szelesseg enlem phi φ",
    Axis.LONGITUDE: "lon long lng longitude longitud longitudine lange laenge langen langengrad laengengrad "
    "langengrade lengdegrad langdgrad laengdegrad lengte lengtegraad dlugosc dlug dl pituusaste pituus hosszusag "
    "boylam lambda λ",
}
_PART_WORDS = {
    Part.DEGREES: "deg degs degree degrees d grad grade grader gradi grado grados graden graus grau gr g degre degres "
    "st stopnie stopni stopien aste asteet fok derece ddd",
    Part.MINUTES: "min mins minute minutes minuten minuti minuto minutos minuty minut minuter primi minuutti minuutit "
    "perc dakika mm mmm m",
    Part.SECONDS: "sec secs sek second seconds seconde secondes secondi segundo segundos sekunde sekunden sekundy "
    "sekund sekunder seconden sekunti sekunnit masodperc saniye ss s",
    Part.HEMISPHERE: "hem hemi hemisphere hemisphare hemisfera hemisferio emisfero halbkugel dir direction richtung "
    "himmelsrichtung ref quadrant sens polkula letter kierunek cardinal",
    Part.WHOLE: "dec decimal decimals dd dez dezimal decimale dms",
}
_AXES = {word: axis for axis, words in _AXIS_WORDS.items() for word in words.split()}
_PARTS = {word: part for part, words in _PART_WORDS.items() for word in words.split()}
_SIDE_WORDS = {
    "N": "polnoc nordl nordlich nordliche northern",
    "S": "poludnie sudl sudlich sudliche southern",
    "E": "wschod ostl ostlich ostliche eastern",
    "W": "zachod westl westlich westliche western",
}
_SIDES = {fold(word): letter for word, letter in LETTER_WORDS.items()}
_SIDES |= {word: side for side, words in _SIDE_WORDS.items() for word in words.split()}
_PAIRS = {
    **dict.fromkeys(("ns", "sn"), Axis.LATITUDE),
    **dict.fromkeys(("ew", "we", "ow", "wo", "eo", "oe"), Axis.LONGITUDE),
}
_NOISE_WORDS = (
    "gps wgs wgs84 84 coordinate coordinates coord coords koordinate koordinaten geo geographic geographical geogr "
    "geographische geografische geograficzna geograficzny position pos of in the der die wp wpt waypoint"
)
_NOISE = frozenset(_NOISE_WORDS.split())


def _any_of(words: set[str]) -> str:
    return "|".join(sorted(words, key=len, reverse=True))


_RUN_TOGETHER = re.compile(rf"({_any_of(set(_AXES))})({_any_of({*_PARTS, *_PAIRS})})")
_TURNED = re.compile(r"(deg|min|sec|hem|dir|d|m|s)(lat|lon|long)")


@dataclass(frozen=True, slots=True)
class CoordinateHeader:
    """What a header says; None for what it leaves open.

    `part` of a header that names an axis alone is WHOLE; `side` is one letter, `letters` the pair of a hemisphere
    column as written (`OW`). `is_odd`: it names an axis and something that is not known (`Lat 2`). `is_doubtful`: N°
    may be a running number.
    """

    axis: Axis | None
    part: Part | None
    side: str | None = None
    letters: str | None = None
    is_odd: bool = False
    is_doubtful: bool = False


@lru_cache(maxsize=1 << 10)
def coordinate_header(header: str) -> CoordinateHeader | None:
    """Return what a header says of a coordinate, None for one that says nothing of any."""
    words = _words(header)
    axes = {_AXES[word] for word in words if word in _AXES}
    pairs = [word for word in words if word in _PAIRS]
    axes |= {_PAIRS[word] for word in pairs}
    known = [word for word in words if word in _AXES or word in _PAIRS or word in _PARTS or word in _SIDES]
    if not known or len(axes) > 1:
        return None
    named = any(word in _AXES for word in words)
    if len(known) < len(words):
        return CoordinateHeader(next(iter(axes)), None, is_odd=True) if named and words[0] in _AXES else None
    rest = [word for word in words if word not in _AXES and word not in _PAIRS]
    parts = [_PARTS[word] for word in rest if word in _PARTS]
    sides = [_SIDES[word] for word in rest if word in _SIDES and word not in _PARTS]
    if pairs or Part.HEMISPHERE in parts:
        letters = pairs[0].upper() if pairs else None
        return CoordinateHeader(next(iter(axes), None), Part.HEMISPHERE, letters=letters)
    if set(parts) == {Part.WHOLE, Part.DEGREES}:
        parts = [Part.WHOLE]  # "decimal degrees"; but "DD.MM" is neither
    parts = list(dict.fromkeys(parts))
    if len(parts) > 1 or len(sides) > 1:
        return None
    side = sides[0] if sides else None
    if side is not None and not axes:
        axes = {Axis.LATITUDE if side in "NS" else Axis.LONGITUDE}
    part = parts[0] if parts else Part.WHOLE if axes else None
    is_doubtful = re.fullmatch(r"\s*[Nn]\s*[°ºo]\s*", header) is not None
    return CoordinateHeader(next(iter(axes), None), part, side, is_doubtful=is_doubtful)


def _words(header: str) -> list[str]:
    """Return the words of a header, folded, signs as words, what is run together taken apart."""
    text = re.sub(r"(?<=[a-zß-ÿ])(?=[A-Z])", " ", plain_signs(header))
    text = re.sub(r"(?i)(?<![^\W_])([NSEWO])\s*[/|\\+-]\s*([NSEWO])(?![^\W_])", r" \1\2 ", text)
    words: list[str] = []
    for word in fold(signs_as_words(text)).split():
        whole = word in _AXES or word in _PARTS or word in _SIDES
        run = None if whole else _RUN_TOGETHER.fullmatch(word) or _TURNED.fullmatch(word)
        words += run.groups() if run is not None else [word]
    return [word for word in words if word not in _NOISE]


def signs_as_words(text: str) -> str:
    """Return a header with °, ′ and ″ (as `plain_signs` gives them) as words."""
    for sign, word in (("''", " sec "), ('"', " sec "), ("'", " min "), ("°", " deg ")):
        text = text.replace(sign, word)
    return text


# Cells

MOST = 0.75
"""What holds for this share of a column's cells holds for the column: a few may be spoilt."""

_NUMBER = re.compile(
    r"[NSEWOnsewo]? ?([+-]?)(\d+)(?:[.,](\d*))? ?(?:°|'|\"|''|d|m|s|deg|min|sec|Grad|Min|Sek)?\.? ?([NSEWOnsewo]?)"
)


@dataclass(frozen=True, slots=True)
class Cells:
    """A column's cells. `letters` are the hemispheres where it holds nothing else; `has_text` where it holds no single
    numbers. `is_whole`: without decimals; `below_60`, `below_181`: within what minutes and degrees can be.
    `is_sign`: nothing but plus and minus signs.
    """

    filled: int
    letters: frozenset[str] = frozenset()
    is_number: bool = False
    is_whole: bool = False
    below_60: bool = False
    below_181: bool = False
    has_minus: bool = False
    is_sign: bool = False

    @property
    def has_text(self) -> bool:
        return self.filled > 0 and not (self.is_number or self.letters or self.is_sign)


def look_at(cells: Sequence[str]) -> Cells:
    """Return what the cells of a column are."""
    filled = [plain_signs(cell) for cell in cells if cell.strip()]
    if not filled:
        return Cells(0)
    least = MOST * len(filled)
    letters = [letter for cell in filled if (letter := letter_of(cell)) is not None]
    if len(letters) >= least:
        # One letter of the other axis among many is spoilt, and its row will say so.
        for axis in ("NS", "EWO"):
            own = frozenset(letters) & set(axis)
            if sum(letter in own for letter in letters) >= MOST * len(letters):
                return Cells(len(filled), own)
        return Cells(len(filled), frozenset(letters))
    if all(cell in ("+", "-") for cell in filled):
        return Cells(len(filled), is_sign=True)
    found = [match for cell in filled if (match := _NUMBER.fullmatch(plain_number(cell))) is not None]
    if len(found) < least:
        return Cells(len(filled))
    sizes = [int(match[2][:9]) for match in found]
    return Cells(
        len(filled),
        is_number=True,
        is_whole=sum(not (match[3] or "").strip("0") for match in found) >= least,
        below_60=sum(size < 60 for size in sizes) >= least,
        below_181=sum(size <= 180 for size in sizes) >= least,
        has_minus=any(match[1] == "-" for match in found),
    )
