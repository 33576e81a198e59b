"""Radii found for a task's areas, for people: what suits, by how much, what is out of reach, and what would help."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, right
from taskdb.core.course.zones import size_words
from taskdb.core.judgement.sizes import area_numbers
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Units, format_duration, format_wind

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.judgement.fit import Flown
    from taskdb.core.judgement.sizes import Cap
    from taskdb.services.tasks.fitting import Fitted

CAUTION = (
    "A planning aid, no promise: averages in still air, one wind everywhere, the shortest and the longest path. Check "
    "airspace, NOTAM and weather; local rules and the contest's officials decide, and in the air the pilot in command."
)


def show_fitted(printer: Printer, found: Fitted) -> None:
    """Show the radii, what slow and fast make of them, and which minimum times suit."""
    fit, task = found.fit, found.task
    printer.heading(f"{task.name}, revision {found.revision}: {_outcome(found)}")
    printer.pairs(_given(found))
    printer.line()
    printer.table(
        [*right("no."), "code", "name", *right("radius now", _found_title(found))],
        [_area(found, number, printer.units) for number in fit.figures.radii],
    )
    for text in _stays(found):
        printer.line(text, style="dim")
    printer.line()
    printer.table(
        ["", *right("speed"), "over", *right("distance", "time"), "for the minimum time"],
        [
            _flown("slowest", "minimum", fit.figures.slowest, fit.asked.time_s, printer),
            _flown("fastest", "maximum", fit.figures.fastest, fit.asked.time_s, printer),
        ],
    )
    printer.line()
    for text in (*_window(found), _cap(found, fit.cap, printer.units)):
        printer.line(text)
    if fit.steps is None:
        for text in _ways_out(found):
            printer.line(text, style="warning")
    if found.saved is not None:
        saved = found.saved.task
        printer.line(
            f"Kept as {saved.name!r}, variant {saved.variant}: {command_line('task show', saved.name)}", style="good"
        )
    printer.line(CAUTION, style="dim")


def _outcome(found: Fitted) -> str:
    sizes = found.sizes_text
    if not sizes:
        return "no radius suits both"
    different = list(dict.fromkeys(sizes.values()))
    return (
        f"radius {_spaced(different[0])}" if len(different) == 1 else f"radii {', '.join(map(_spaced, sizes.values()))}"
    )


def _spaced(text: str) -> str:
    """Return `12 km` for `12km`."""
    number = text.rstrip("abcdefghijklmnopqrstuvwxyz")
    return f"{number} {text[len(number) :]}"


def _given(found: Fitted) -> Iterator[tuple[str, Cell]]:
    asked = found.fit.asked
    own = found.task.time_s == asked.time_s
    yield "minimum time", f"{_time(asked.time_s)}{'' if own else ' (given here)'}"
    wind = "none known: calm air" if found.wind is None else format_wind(found.wind)
    yield "wind", f"{wind} (the day's)" if found.wind_from.value == "day" else wind
    yield "speeds of", found.whose


def _found_title(found: Fitted) -> str:
    return "suits" if found.fit.steps is not None else "at the cap"


def _area(found: Fitted, number: int, units: Units) -> tuple[Cell, ...]:
    point, text = found.point(number), found.sizes_text.get(number)
    size = _spaced(text) if text is not None else numbers.distance(found.fit.figures.radii[number], units)
    return number, point.place.code, point.place.name, size_words(point.zone.radius_m or 0.0, units), size


def _stays(found: Fitted) -> Iterator[str]:
    """Yield what is not sized: inner radii and radials, areas that keep their zone."""
    rings = [number for number in found.sizes.shares if found.point(number).zone.inner_radius_m]
    if rings:
        yield f"Of the ring at {', '.join(map(str, rings))} the outer radius is sized; the rest of it stays."
    for number in area_numbers(found.task):
        if number not in found.sizes.shares:
            point = found.point(number)
            yield f"Kept as it is: {number} ({point.place.code}), {point.zone.text}."


def _flown(who: str, extent: str, flown: Flown, time_s: float, printer: Printer) -> tuple[Cell, ...]:
    speed, distance = numbers.speed(flown.speed_kmh, printer.units), numbers.distance(flown.distance_m, printer.units)
    if flown.time_s is None:
        return who, speed, extent, distance, "cannot", "the wind is too strong for it"
    over = abs(flown.time_s - time_s)
    if flown.fits:
        said = f"fits, {_time(over)} to spare"
    else:
        said = f"{_time(over)} too {'long' if who == 'slowest' else 'short'}"
    return who, speed, extent, distance, _time(flown.time_s), said


def _window(found: Fitted) -> Iterator[str]:
    first, last = found.fit.figures.window_s
    which = "These radii suit" if found.fit.steps is not None else "At the cap the areas suit"
    if first is None or last is None:
        return
    if first > last:
        yield f"{which} no minimum time: at the slowest's {_time(first)} the fastest are past their {_time(last)}."
    else:
        yield f"{which} minimum times from {_up(first)} to {_down(last)}."


def _cap(found: Fitted, cap: Cap, units: Units) -> str:
    area, other = (f"{number} ({found.point(number).place.code})" for number in cap.numbers)
    what = (
        f"the areas {area} and {other} begin to overlap"
        if cap.is_overlap
        else f"the area {area} begins to hold the point {other}"
    )
    largest = "" if len(set(found.sizes.shares.values())) == 1 else ", counted by the largest area"
    return f"Cap: at {numbers.distance(cap.metres, units, 2)} {what}{largest}."


def _ways_out(found: Fitted) -> Iterator[str]:
    fit = found.fit
    stopped = [flown for flown in (fit.figures.slowest, fit.figures.fastest) if flown.time_s is None]
    if stopped:
        fastest = max(flown.speed_kmh for flown in stopped)
        yield f"Out of reach by the wind: no radius and no time help whoever makes {fastest:.0f} km/h or less in it."
        return
    missed = [("slow", fit.figures.slowest.fits), ("fast", fit.figures.fastest.fits)]
    out = [who for who, fits in missed if not fits]
    if not out:
        yield "Only the cap itself would do; a finer step may, such as --step 100m."
        return
    yield f"Out of reach: for the {' and the '.join(out)} areas would have to be larger than they can be."
    if fit.suited.from_kmh is not None:
        speeds = " to ".join(f"{speed:.0f} km/h" for speed in (fit.suited.from_kmh, fit.suited.to_kmh or 0.0))
        yield f"At the cap {_time(fit.asked.time_s)} suits speeds from {speeds}."
    if fit.time_that_fits_s is not None:
        yield f"Another time would do with areas near the cap: --time {_time(fit.time_that_fits_s)}."
    else:
        yield "No other time suits both either: choose points further apart, or fewer speeds."


def _time(seconds: float) -> str:
    return format_duration(round(seconds / 60) * 60 if seconds >= 60 else round(seconds))


def _up(seconds: float) -> str:
    return format_duration(math.ceil(seconds / 60) * 60)


def _down(seconds: float) -> str:
    return format_duration(math.floor(seconds / 60) * 60)
