"""Countries as people write them: two or three letters, names in English and some hundred other languages.

Reads its own file (data/README.md says where it comes from) and nothing else.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from taskdb.core.names import fold, fold_all, fold_german

DATA = Path(__file__).parent / "data" / "countries.txt"
_OTHER_LETTERS = "\u0530"
"""From here on marks may be vowels."""
# What English speakers write besides the one name that the CLDR has. Common practice, no source.
_ALSO = {
    "America": "US", "Bosnia": "BA", "Bosnia and Herzegovina": "BA", "Britain": "GB", "Burma": "MM", "Cape Verde": "CV",
    "Czech Republic": "CZ", "East Timor": "TL", "England": "GB", "Great Britain": "GB", "Holland": "NL",
    "Ivory Coast": "CI", "Macedonia": "MK", "Northern Ireland": "GB", "Republic of Ireland": "IE",
    "Russian Federation": "RU", "Scotland": "GB", "Slovak Republic": "SK", "Swaziland": "SZ", "Turkey": "TR",
    "The Netherlands": "NL", "UK": "GB", "U.K.": "GB", "United States of America": "US", "U.S.": "US", "U.S.A.": "US",
    "Wales": "GB",
}  # fmt: skip


def country_code(text: str) -> str | None:
    """Return the two letters of ISO 3166-1 (XK for Kosovo) for a country as people write it; None where unknown.

    Nothing is guessed: a name that means several countries in different languages is unknown.
    """
    short = text.strip().casefold()
    return _codes().get(short) or _names().get(short) or _names().get(name_key(text))


def known_countries(texts: Sequence[str]) -> Mapping[str, str]:
    """Return those of different texts that are countries, with what `country_code` gives for them.

    Texts that are none, and may be as many as the rows of a file, are folded all at once.
    """
    codes, names = _codes(), _names()
    found = {}
    for text, key in zip(texts, fold_all(texts), strict=True):
        short = text.strip().casefold()
        code = codes.get(short) or names.get(short)
        if code is None:
            code = names.get(key if text.isascii() or max(text) < _OTHER_LETTERS else name_key(text))
        if code is not None:
            found[text] = code
    return found


def name_key(name: str) -> str:
    """Return under which key a name is looked up: folded, but where marks are vowels the letters as they are."""
    folded = fold(name)
    letters = [letter for letter in name if letter.isalpha()]
    plain = all(letter < _OTHER_LETTERS for letter in letters)
    return folded if plain else unicodedata.normalize("NFC", name.strip()).casefold()


@cache
def _lines() -> tuple[str, ...]:
    return tuple(DATA.read_text(encoding="utf-8").splitlines())


@cache
def _codes() -> Mapping[str, str]:
    """Return the two letters by two and by three, which is all that most files need."""
    both = (line.split("\t", 2) for line in _lines())
    return {key.lower(): code for code, three, _ in both for key in (code, *three.split())}


@cache
def _names() -> Mapping[str, str]:
    found: dict[str, str] = {}
    for line in _lines():
        code, _, *names = line.split("\t")
        found |= {name_key(name): code for name in names}
        # Umlauts are also written out: Oesterreich.
        written_out = {key: code for name in names if (key := fold_german(name)) not in found}
        found |= written_out
    for name, code in _ALSO.items():
        found[name_key(name)] = found[name.casefold()] = code
    return found
