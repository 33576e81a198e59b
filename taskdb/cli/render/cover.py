"""Landable cover for people: what it reckons with, the stretches out of reach, and field by field along the course."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import right
from taskdb.cli.render.tasks import CAUTION
from taskdb.core.judgement.cover import Cover, CoverGround, Sample
from taskdb.core.judgement.glide import SAID
from taskdb.core.numbers import counted
from taskdb.core.quantities import Units, format_wind

if TYPE_CHECKING:
    from taskdb.cli.render.console import Cell, Printer
    from taskdb.services.tasks.cover import CoverShown
    from taskdb.services.tasks.covers import CoverFound

_SHORT = "out of reach"


def show_cover(printer: Printer, shown: CoverShown, *, with_samples: bool) -> None:
    """Show a task's cover: the headline, what was reckoned with, what is out of reach, and a row a field."""
    cover, units = shown.found.cover, printer.units
    printer.heading(f"{shown.task.name}@{shown.revision}: {_headline(cover, units)}")
    printer.pairs(_terms(shown.found, units))
    if cover.stretches:
        printer.line()
        printer.table(["no field in reach", *right("length"), "nearest"], _stretches(shown, units))
    printer.line()
    legs = _legs(shown)
    runs = [[one] for one in cover.samples] if with_samples else _runs(cover)
    heads = ["leg", *right("at" if with_samples else "from – to"), "field", *right("distance", "arrives"), ""]
    printer.table(heads, [_row(run, legs, units) for run in runs])
    if shown.written is not None:
        printer.line(f"The side view lies in {shown.written}.")
    printer.line(SAID, style="warning")
    printer.line(CAUTION, style="dim")


def _headline(cover: Cover, units: Units) -> str:
    if not cover.stretches:
        known = len(cover.samples) - cover.withheld
        return (
            "a field is in reach all the way"
            if not cover.withheld
            else (f"a field is in reach at {known} of {len(cover.samples)} places; of the others it is not known")
        )
    longest = numbers.distance(cover.longest_out_m, units)
    return (
        f"no field in reach at {cover.out_of_reach} of {len(cover.samples)} places, on "
        f"{counted(len(cover.stretches), 'stretch', 'stretches')}, the longest {longest}"
    )


def _terms(found: CoverFound, units: Units) -> list[tuple[str, Cell]]:
    cover, whose = found.cover, found.sources
    terms = cover.terms
    wind = terms.glide.wind
    blows = f"wind {format_wind(wind)}" if wind.speed_kmh else "calm air"
    airspeed = numbers.speed(terms.glide.airspeed_kmh, units)
    ground = "not asked for" if found.ground is None else found.ground.source
    if cover.ground is CoverGround.TERRAIN:
        free = numbers.short_distance(terms.free_m, units)
        ground += f"; cleared by {terms.clearance_m:.0f} m ({whose['clearance_m']}) but for the last {free}"
    return [
        ("glide", f"1 in {terms.glide.ratio:g} ({whose['glide']}) at {airspeed} ({whose['airspeed_kmh']})"),
        ("wind", f"{blows} ({whose['wind']})"),
        ("from", f"{terms.working_text} ({whose['working_altitude']})"),
        ("to arrive", f"at least {terms.safety_m:.0f} m over the field ({whose['safety_m']})"),
        ("fields", f"{found.fields_words} ({whose['landable']})"),
        ("ground", ground),
    ]


def _stretches(shown: CoverShown, units: Units) -> list[tuple[Cell, ...]]:
    rows: list[tuple[Cell, ...]] = []
    for stretch in shown.found.cover.stretches:
        nearest = ", ".join(f"{code} {numbers.distance(far, units)}" for code, far in stretch.nearest)
        length = "one place" if stretch.samples == 1 else numbers.distance(stretch.length_m, units)
        rows.append((_between(stretch.from_m, stretch.to_m, units), length, nearest))
    return rows


def _between(from_m: float, to_m: float, units: Units) -> str:
    end = numbers.distance(to_m, units) or ""
    return end if from_m == to_m else f"{(numbers.distance(from_m, units) or '').split()[0]} – {end}"


def _legs(shown: CoverShown) -> list[str]:
    codes = [point.place.code for point in shown.task.points]
    return [f"{a}–{b}" for a, b in pairwise(codes)]


def _runs(cover: Cover) -> list[list[Sample]]:
    keys = groupby(cover.samples, key=lambda one: (one.leg, one.code, one.is_reached, one.is_withheld))
    return [list(run) for _, run in keys]


def _row(run: list[Sample], legs: list[str], units: Units) -> tuple[Cell, ...]:
    """Return a row for samples behind each other that have the same field: the worst of them."""
    first, last = run[0], run[-1]
    worst = min(run, key=lambda one: one.arrival_m if one.arrival_m is not None else 0.0)
    if first.is_withheld:
        words = f"{_SHORT}, withheld" if first.is_reached is False else "withheld"
    else:
        words = "" if first.is_reached else _SHORT
    arrives = None if worst.arrival_m is None else f"{worst.arrival_m:.0f} m"
    return (
        legs[first.leg] if legs else None,
        _between(first.at_m, last.at_m, units),
        first.code,
        numbers.distance(worst.distance_m, units),
        arrives,
        words,
    )
