"""Makes `taskdb/reference/data/countries.txt` anew from the Unicode CLDR that babel holds.

`python -m tests.reference.make_countries` writes it. A line a country: its two letters, its three (former ones too),
then its names, parted by tabs, English first, then in the other languages that are official somewhere. Scripts in
which marks are vowels stand only where the language is the country's.
"""

from __future__ import annotations

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.languages import get_official_languages

from taskdb.reference.countries import DATA, name_key

# Not countries and no places with a code of their own in ISO 3166-1; XK is Kosovo, by its user-assigned code.
LEFT_OUT = frozenset(["AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ"])


def lines() -> list[str]:
    """Return the lines of the file."""
    english = Locale("en").territories
    codes = sorted(code for code in english if len(code) == 2 and code.isalpha() and code not in LEFT_OUT)
    native = {code: get_official_languages(code, regional=False, de_facto=True) for code in codes}
    names: dict[str, list[str]] = {code: [english[code]] for code in codes}
    for language in sorted({language for spoken in native.values() for language in spoken}):
        try:
            territories = Locale.parse(language).territories
        except UnknownLocaleError:
            continue
        for code in codes:
            name = territories.get(code)
            if name and (name_key(name).isascii() or language in native[code] or _is_lettered(name)):
                names[code].append(name)
    meant: dict[str, set[str]] = {}
    for code, known in names.items():
        for name in known:
            meant.setdefault(name_key(name), set()).add(code)
    three: dict[str, list[str]] = {}
    for old, held in sorted(get_global("territory_aliases").items()):
        if len(old) == 3 and old.isalpha() and len(held) == 1:
            three.setdefault(held[0], []).append(old)
    found = []
    for code, known in names.items():
        keys: dict[str, str] = {}
        for name in known:
            if len(meant[name_key(name)]) == 1 and not is_short(name):
                keys.setdefault(name_key(name), name)
        found.append("\t".join([code, " ".join(three.get(code, ())), *keys.values()]))
    return found


def _is_lettered(name: str) -> bool:
    """Say whether a name is in Greek or Cyrillic, which fold as Latin does."""
    return all("\u0370" <= letter <= "\u04ff" or not letter.isalpha() for letter in name)


def is_short(name: str) -> bool:
    """Say whether a name could be taken for a code."""
    return name_key(name).isascii() and len(name_key(name)) <= 3


if __name__ == "__main__":
    DATA.write_text("\n".join(lines()) + "\n", encoding="utf-8")
