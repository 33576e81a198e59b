"""Print how often a misread group is found, and how often a clean one is called so.

Run `python -m tests.benchmarks.checks_misread_groups`. A group is 15 airfields of one source within a set of 300, of
which a share was typed as DD.MMSS into a column of decimal degrees; the rest, and clean groups, are true decimals.
"""

from __future__ import annotations

import random
from dataclasses import replace

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import run_checks
from taskdb.core.checks.rules.misread_group import RULE
from taskdb.core.model import Position, Typed, Waypoint
from tests.benchmarks.checks_seasons import REGIONS, fields_of, metres

GROUP = 15


def decimal(point: Waypoint, decimals: int) -> Waypoint:
    """Return the point as decimal degrees of so many decimals."""
    values = (point.position.latitude_deg, point.position.longitude_deg)
    position = Position.at(*(round(value, decimals) for value in values))
    return replace(point, position=position, typed=Typed(notation="decimal-degrees", decimals=decimals))


def misread(point: Waypoint) -> Waypoint:
    """Return the point as DD.MMSS taken for decimal degrees."""
    values = []
    for value in (point.position.latitude_deg, point.position.longitude_deg):
        seconds = round(abs(value) * 3600)
        written = float(f"{seconds // 3600}.{seconds // 60 % 60:02d}{seconds % 60:02d}")
        values.append(-written if value < 0 else written)
    return replace(point, position=Position.at(*values), typed=Typed(notation="decimal-degrees", decimals=4))


def make_set(seed: int, share: float) -> tuple[list[Waypoint], dict[str, Position]]:
    """Return 300 points, 20 sources of 15; of the first source a share was misread: code → true position."""
    rng = random.Random(f"misread {seed}")
    fields = rng.sample(list(fields_of(rng.choice(list(REGIONS)))), 300)
    truth: dict[str, Position] = {}
    points = []
    for number, one in enumerate(fields):
        source = number // GROUP
        one = replace(one, code=f"{number:03d}", source=f"source {source}")
        decimals = rng.choice((4, 5, 6)) if number < GROUP else 4 + source % 3
        if number < round(share * GROUP):
            truth[one.code] = one.position
            points.append(misread(one))
        else:
            points.append(decimal(one, decimals))
    return points, truth


def run(points: list[Waypoint]) -> dict[str, Position]:
    """Return the mended positions by code."""
    findings = run_checks(CheckInput("set", 1, tuple(points)), (RULE,))
    return {f.codes[0]: f.suggestion.position for f in findings if f.suggestion and f.suggestion.position}


def main() -> None:
    for share in (0.6, 0.8, 1.0):
        found = right = wrong = members = 0
        for seed in range(200):
            points, truth = make_set(seed, share)
            mended = run(points)
            hits = [code for code in truth if code in mended]
            found += len(hits) >= len(truth) // 2
            members += len(hits)
            right += sum(metres(mended[code], truth[code]) < 200 for code in hits)
            wrong += len(mended) - len(hits)
        print(f"misread {share:.0%}: found in {found / 2:.1f} % of 200 runs, {right} of {members} mends right, "
              f"{wrong / 200:.2f} right points called misread a run")  # fmt: skip
    runs = 100
    called = sum(bool(run(make_set(seed, 0.0)[0])) for seed in range(1000, 1000 + runs))
    print(f"clean: {called} of {runs} sets ({runs * 20} groups of {GROUP}) called misread")


if __name__ == "__main__":
    main()
