"""Print how well the checks find planted slips: `python -m tests.benchmarks.checks_slip_table [--quick] [SETTING…]`.

Settings: reference, coordinates, alone (no reference, notation known), alone-typed (the digits as typed too),
alone-bare (neither notation nor a country column); on airfields and towns mixed: mixed, mixed-coordinates (all codes
and names new), mixed-alone, confusions and confusions-coordinates (confused notations alone). `--held-out` takes the
mixed regions on which nothing was tuned; `--seeds N` so many seeds.
Counted over `codes[0]` only, pooled over regions and seeds.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, field

from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Finding, Severity
from taskdb.reference.outlines import load_elevation_grid, load_outlines
from tests.benchmarks.checks_mixed import DEVELOPMENT, HELD_OUT
from tests.benchmarks.checks_planted import CONFUSIONS, KINDS, STANDS_IN
from tests.benchmarks.checks_seasons import REGIONS, Season, make_season, metres, without_text

SETTINGS = ("reference", "coordinates", "alone", "alone-typed", "alone-bare")
MIXED_SETTINGS = ("mixed", "mixed-coordinates", "mixed-alone", "confusions", "confusions-coordinates")
# Confusions of notations stand in for the four of `KINDS`, in their proportion to all.
ALL_KINDS = (*(kind for kind in KINDS if kind not in STANDS_IN), *CONFUSIONS)
NOT_ABOUT_POSITION = frozenset({"one-name-two-places", "elevation-unit"})


@dataclass
class Tally:
    """Counts over several seasons."""

    slips: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    errors: int = 0
    first_right: int = 0
    three_right: int = 0
    clean: int = 0
    false_errors: list[Finding] = field(default_factory=list)
    false_warnings: list[Finding] = field(default_factory=list)
    missed: list[tuple[str, str, str]] = field(default_factory=list)

    def add(self, season: Season, findings: tuple[Finding, ...], need_reference: bool) -> None:
        loud = [f for f in findings if f.severity is not Severity.NOTE and f.rule not in NOT_ABOUT_POSITION]
        best: dict[str, Finding] = {}
        for finding in loud:
            best.setdefault(finding.codes[0], finding)
        for code, (kind, truth, is_known) in season.slipped.items():
            if need_reference and not is_known:
                continue
            self.slips[kind] += 1
            finding = best.get(code)
            if finding is None:
                self.missed.append((season.region, code, kind))
                continue
            self.found[kind] += 1
            self.errors += finding.severity is Severity.ERROR
            mine = [f for f in loud if f.codes[0] == code]
            best_of = next((f for f in mine if f.suggestion), mine[0])
            offered = [s.position for s in (best_of.suggestion, *best_of.alternatives) if s and s.position]
            right = [metres(place, truth) <= 200 for place in offered]
            self.first_right += best_of.suggestion is not None and right[:1] == [True]
            self.three_right += any(right[:3])
        self.clean += len(season.now) - len(season.slipped)
        for code, finding in best.items():
            if code in season.slipped:
                continue
            if finding.severity is Severity.ERROR:
                self.false_errors.append(finding)
            elif code not in season.moved:
                self.false_warnings.append(finding)

    def line(self) -> str:
        n, hit = sum(self.slips.values()), sum(self.found.values())
        thousand = max(self.clean, 1) / 1000
        return (
            f"{n:6d} {100 * hit / max(n, 1):6.1f} {100 * self.errors / max(n, 1):7.1f} "
            f"{100 * self.first_right / max(hit, 1):7.1f} {100 * self.three_right / max(hit, 1):7.1f} "
            f"{len(self.false_errors) / thousand:9.2f} {len(self.false_warnings) / thousand:9.2f}"
        )


HEAD = "slips found% errors% first% three% f.err/1000 f.warn/1000"


def run(season: Season, *, with_reference: bool, with_ground: bool = True) -> tuple[Finding, ...]:
    references = (Reference("last@1", "set", tuple(season.before)),) if with_reference else ()
    return run_checks(
        CheckInput(
            "region",
            2,
            tuple(season.now),
            references=references,
            outlines=load_outlines() if with_ground else None,
            elevation=load_elevation_grid() if with_ground else None,
        )
    )


def measure(setting: str, slips: int, seeds: range, regions: list[str]) -> dict[str, Tally]:
    tallies: dict[str, Tally] = {}
    is_mixed = setting in MIXED_SETTINGS
    for region in regions:
        tally = tallies.setdefault(region, Tally())
        for seed in seeds:
            season = make_season(
                region,
                seed,
                slips,
                everything_renamed=setting.endswith("coordinates"),
                with_country=setting != "alone-bare",
                is_told=setting != "alone-bare",
                kinds=tuple(CONFUSIONS) if setting.startswith("confusions") else ALL_KINDS if is_mixed else KINDS,
            )
            if setting in ("alone", "mixed-alone"):
                season = without_text(season)
            with_reference = "alone" not in setting
            tally.add(season, run(season, with_reference=with_reference), with_reference)
    return tallies


def pooled(tallies: dict[str, Tally]) -> Tally:
    total = Tally()
    for one in tallies.values():
        total.slips += one.slips
        total.found += one.found
        for name in ("errors", "first_right", "three_right", "clean"):
            setattr(total, name, getattr(total, name) + getattr(one, name))
        total.false_errors += one.false_errors
        total.false_warnings += one.false_warnings
        total.missed += one.missed
    return total


def main(words: list[str]) -> None:
    seeds = range(2) if "--quick" in words else range(10)
    if "--seeds" in words:
        seeds = range(int(words.pop(words.index("--seeds") + 1)))
    detail = "--detail" in words
    settings = [w for w in words if not w.startswith("-")] or [*SETTINGS, *MIXED_SETTINGS]
    for setting in settings:
        is_mixed = setting in MIXED_SETTINGS
        regions = REGIONS if not is_mixed else HELD_OUT if "--held-out" in words else DEVELOPMENT
        for slips in (60, 20) if is_mixed else (160, 20):
            start = time.perf_counter()
            tallies = measure(setting, slips, seeds, list(regions))
            print(f"\n{setting}, {slips} slips, {len(seeds)} seeds ({time.perf_counter() - start:.0f} s)")
            print(f"{'':18s} {HEAD}")
            for region, tally in tallies.items():
                print(f"{region:18s} {tally.line()}")
            total = pooled(tallies)
            print(f"{'all':18s} {total.line()}")
            print("  ", ", ".join(f"{k} {total.found[k]}/{total.slips[k]}" for k in sorted(total.slips)))
            if detail:
                for kind, some in (("false error", total.false_errors), ("false warning", total.false_warnings)):
                    print(f"  {kind}:", Counter(f.rule for f in some))
                    for finding in some[:25]:
                        print("    ", finding.message, finding.evidence.get("matched_by"))
                print("  missed:", total.missed[:20])


if __name__ == "__main__":
    main(sys.argv[1:])
