"""How well flights tell misplaced aerodromes: planted slips found, mends right, false alarms; on real airfields.

    python -m tests.benchmarks.flown_places [SEEDS]     (5 unless told otherwise)

Sets of 250 neighbouring airfields of an open list (airportsdata). Of 40 the gliders of three days are known, each
within 700 m of the field; ten of these are mistyped in the set, and ten are missing from it: what slips of others could
explain by chance.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import replace

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import away_from_flights, run_checks
from taskdb.core.flights.places import Stood, gather_places
from taskdb.core.model import Landable, Severity, Waypoint
from tests.benchmarks.checks_seasons import (
    REGIONS,
    SOURCES,
    _put,
    _slip_that_matters,
    as_typed,
    fields_of,
    metres,
    shifted,
)
from tests.benchmarks.checks_slip_table import ALL_KINDS

DAYS = ("2027-06-14", "2027-06-15", "2027-06-16")


def a_set(region: str, rng: random.Random) -> list[Waypoint]:
    """Return 250 airfields about one of a region, none within 3 km of another."""
    fields = fields_of(region)
    centre = rng.choice(fields).position
    found: list[Waypoint] = []
    for field in sorted(fields, key=lambda one: metres(one.position, centre)):
        if all(metres(field.position, other.position) > 3_000 for other in found[-40:]):
            source = rng.choice(list(SOURCES))
            found.append(as_typed(replace(field, source=source, landable=Landable.AERODROME), field.position, True))
        if len(found) == 250:
            break
    return found


def measure(region: str, seed: int, tally: Counter[str]) -> None:
    rng = random.Random(f"{region} {seed}")
    points = a_set(region, rng)
    flown = rng.sample(range(len(points)), 40)
    stood = [
        Stood(shifted(points[n].position, rng, 0, 700), day, is_take_off, None)
        for n in flown
        for day in DAYS
        for is_take_off in (True, False)
    ]
    wrong, missing = flown[:10], set(flown[10:20])
    truth = {}
    for n in wrong:
        planted = _slip_that_matters(points[n].position, SOURCES[points[n].source or "survey"], ALL_KINDS, rng)
        assert planted is not None
        mistyped = _put(points[n], planted[1], planted[2], SOURCES[points[n].source or "survey"], True)
        if metres(mistyped.position, points[n].position) > 2_500:
            truth[points[n].code] = points[n].position
            points[n] = mistyped
    given = CheckInput("s", 1, [p for n, p in enumerate(points) if n not in missing], flights=gather_places(stood))
    told = set()
    for finding in run_checks(given, rules=(away_from_flights.RULE,)):
        code, how = finding.codes[0], "warning" if finding.severity is Severity.WARNING else "note"
        if code not in truth:
            tally[f"false {how}"] += 1
            continue
        told.add(code)
        tally[f"found as {how}"] += 1
        mended = finding.suggestion.position if finding.suggestion is not None else None
        tally["mend right"] += mended is not None and metres(mended, truth[code]) < 100
    tally["planted"] += len(truth)
    tally["clean"] += len(given.waypoints) - len(truth)
    tally["missing"] += len(missing)


def main() -> int:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for region in REGIONS:
        tally: Counter[str] = Counter()
        for seed in range(seeds):
            measure(region, seed, tally)
        print(f"{region:18}", dict(sorted(tally.items())))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
