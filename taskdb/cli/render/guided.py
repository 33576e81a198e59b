"""The screen of a task that is being put together: its points and figures, what is typed, and what that may mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import aligned, display_width, safe
from taskdb.cli.render.findings import brief_lines
from taskdb.cli.render.tasks import margin_words, shape_name
from taskdb.core.course.free import free_words
from taskdb.core.course.zones import describe_zone, is_zone_text
from taskdb.core.model import Role
from taskdb.core.quantities import Units, format_duration

if TYPE_CHECKING:
    from taskdb.core.course.measure import Leg
    from taskdb.core.model import Waypoint
    from taskdb.services.tasks.building import DraftTask, NewTask, PointRequest

_BOLD, _DIM, _END = "\x1b[1m", "\x1b[2m", "\x1b[0m"
HELP = "Enter: take, or save if empty · Tab: to the {finish} · Backspace: back · Esc: leave"
_LEAST_POINTS = 4
"""So many lines are kept for the points where there is more to say than the screen holds."""


@dataclass(frozen=True)
class Guided:
    """What stands on the screen: the task as far as it has grown, what is being typed, and what that may mean."""

    request: NewTask
    draft: DraftTask
    text: str = ""
    hits: tuple[Waypoint, ...] = ()
    total: int = 0
    chosen: int = 0
    said: str = ""
    is_done: bool = False

    @property
    def points(self) -> tuple[PointRequest, ...]:
        return self.request.points


def screen_lines(state: Guided, *, width: int, height: int, units: Units, color: bool) -> list[str]:
    """Return the lines of the screen, none wider and not more than it has; of long tasks the last points are shown."""
    head = [_styled(_cut(_title(state), width), _BOLD, color), ""]
    figures = ["", *(_cut(line, width) for line in _figures(state, units)), ""]
    typed = [_cut(f"point {len(state.points)}: {state.text}▏", width), *(_cut(h, width) for h in _hits(state, units))]
    help_line = HELP.format(finish=f"site {state.draft.site}" if state.draft.site else "start")
    foot = ["", _styled(_cut(state.said or help_line, width), _BOLD if state.said else _DIM, color)]
    left = height - len(head) - len(figures) - len(typed) - len(foot) - min(_LEAST_POINTS, len(state.draft.places))
    figures[-1:] = [*(_cut(line, width) for line in _more(state, units, left)), ""]
    points = [_cut(line, width) for line in _points(state, units)]
    room = max(1, height - len(head) - len(figures) - len(typed) - len(foot))
    if len(points) > room:
        points = [_cut(f"  … {len(points) - room + 1} before", width), *points[len(points) - room + 1 :]]
    return [*head, *points, *figures, *typed, *foot][:height]


def _styled(text: str, style: str, color: bool) -> str:
    return f"{style}{text}{_END}" if color else text


def _cut(text: str, width: int) -> str:
    """Return a line that fits: a screen that is drawn again and again cannot fold."""
    shown = safe(text)
    if display_width(shown) <= width:
        return shown
    while display_width(shown) > width - 1:
        shown = shown[:-1]
    return f"{shown}…"


def _title(state: Guided) -> str:
    request = state.request
    belongs = f" in {request.contest}" if request.contest else ""
    kind = f", {state.draft.task.type}" if state.draft.task is not None else ""
    return f"{request.name}{belongs} on {state.draft.set_at}{kind}"


def _points(state: Guided, units: Units) -> list[str]:
    """Return a line a point: number, code, name, zone, and the leg to it."""
    draft = state.draft
    task, legs, rows = draft.task, draft.legs, []
    for number, place in enumerate(draft.places):
        zone = describe_zone(task.points[number].zone, units) if task is not None else _own_zone(state, number, units)
        leg = ""
        if number:
            leg = _leg_words(legs[number - 1], units)
        name = "" if place.name == place.code else place.name
        rows.append((str(number), place.code, name, leg, zone))
    return [f"  {line}" for line in aligned(rows)]


def _leg_words(leg: Leg, units: Units) -> str:
    return f"{numbers.distance(leg.distance_m, units)} {numbers.course(leg.course_true_deg) or ''}".strip()


def _own_zone(state: Guided, number: int, units: Units) -> str:
    zone = state.points[number].zone
    return "" if zone is None else describe_zone(zone, units)


def _figures(state: Guided, units: Units) -> list[str]:
    """Return distance, shape and time of the task as it stands, or why it is none yet."""
    draft = state.draft
    if draft.course is None or draft.task is None:
        return [draft.problem or "Type a code or the beginning of a name; a zone follows its point."]
    distances, time = draft.course.distances, draft.course.time
    task = f"task distance {numbers.distance(distances.task_m, units)}"
    if distances.minimum_m != distances.task_m or distances.maximum_m != distances.task_m:
        ends = [numbers.distance(metres, units) or "open" for metres in (distances.minimum_m, distances.maximum_m)]
        task = f"{task}, {ends[0]} to {ends[1]}"
    if time.time_s is not None:
        task = f"{task}; {time.kind} time {format_duration(round(time.time_s / 60) * 60)}, {_speeds(state, units)}"
    return [task, _shape(state, units)]


def _speeds(state: Guided, units: Units) -> str:
    assert state.draft.course is not None
    time = state.draft.course.time
    has_areas = any(point.role is Role.AREA for point in (state.draft.task.points if state.draft.task else ()))
    speeds = (time.minimum_kmh, time.maximum_kmh) if has_areas and time.maximum_kmh is not None else (time.task_kmh,)
    return " to ".join(str(numbers.speed(speed, units)) for speed in speeds if speed is not None)


def _more(state: Guided, units: Units, most: int) -> list[str]:
    """Return what `task show` says besides, as far as there is room: what a review finds, what is left free, times."""
    draft = state.draft
    review = draft.review
    found = [] if review is None else [f"{severity.value}: {text}" for severity, text in brief_lines(review.open)]
    free = free_words(draft.task.free, units) if draft.task is not None else ""
    lines = [*found, *([free] if free else []), *_times(state)]
    if len(lines) <= most:
        return lines
    return [*lines[: max(0, most - 1)], f"… {len(lines) - max(0, most - 1)} more with `task show`"] if most > 0 else []


def _times(state: Guided) -> list[str]:
    """Return the time over each point for each distance, by the clock or from the start, and the last finish."""
    day = state.draft.day
    if day is None:
        return []
    lines = []
    for flight in day.timetables:
        over = [
            f"{number} {at or f'+{format_duration(round(after / 60) * 60)}'}"
            for number, (after, at) in enumerate(zip(flight.after_s, day.over(flight), strict=True))
            if number and after is not None
        ]
        lines.append(f"times over the {flight.extent} distance: {', '.join(over)}")
    if day.last_finish is not None and day.last_finish.at() is not None:
        lines.append(f"last expected finish {day.last_finish.at()}")
    return lines


def _shape(state: Guided, units: Units) -> str:
    assert state.draft.course is not None
    shape = state.draft.course.shape
    words = shape_name(shape)
    if shape.fai_margin_percent is not None:
        words = f"{words}: {' / '.join(f'{share:.1f} %' for share in shape.side_percent)}{margin_words(shape)}"
    if not shape.is_closed:
        words = f"{words}; {numbers.short_distance(shape.gap_m, units)} from finish to start"
    return words


def _hits(state: Guided, units: Units) -> list[str]:
    """Return what the typed text may mean, the chosen one marked by a sign, with the leg that it would make."""
    lines = []
    widest = max((display_width(w.code) for w in state.hits), default=0)
    for number, waypoint in enumerate(state.hits):
        leg = state.draft.leg_to(waypoint.position)
        there = "" if leg is None else f"  {_leg_words(leg, units)}"
        pad = " " * (widest - display_width(waypoint.code))
        lines.append(f"{'>' if number == state.chosen else ' '} {waypoint.code}{pad}  {waypoint.name}{there}")
    if state.total > len(state.hits):
        lines.append(f"  … {state.total - len(state.hits)} more: go on typing")
    if state.text and is_zone_text(state.text) and state.points:
        lines.append(f"  the zone of point {len(state.points) - 1}")
    return lines
