"""`taskdb task new --guided`: a task put together on a terminal, point by point, with distance and shape as it grows.

What is typed and seen only; searching, measuring and saving are the services that every other command uses. The
screen goes to standard error, so that standard output holds the result alone.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from taskdb.cli.frame.command import can_ask
from taskdb.cli.render.guided import Guided, screen_lines
from taskdb.cli.tasks.guided_keys import Key, terminal_keys
from taskdb.core.pasted import command_line
from taskdb.errors import RefusedError, TaskdbError

if TYPE_CHECKING:
    from taskdb.cli.frame.command import Invocation
    from taskdb.services.desk import Desk
    from taskdb.services.tasks.building import NewTask, PointRequest

MOST_HITS = 8
_NEW_SCREEN, _OLD_SCREEN, _HOME, _CLEAR_REST = "\x1b[?1049h", "\x1b[?1049l", "\x1b[H", "\x1b[J"


def guide(invocation: Invocation, request: NewTask) -> NewTask:
    """Return the request with the points that a person put together. RefusedError without a terminal, and on Esc."""
    if not can_ask():
        raise RefusedError(
            "no-terminal",
            "--guided needs a terminal: it reads single keys.",
            hint=f"Name the points instead: {command_line('task new', request.name, 'POINT', 'POINT')} …",
        )
    from taskdb.services.tasks.building import draft_task

    state = Guided(request, draft_task(invocation.desk, request))
    screen = sys.stderr
    try:
        screen.write(_NEW_SCREEN)
        with terminal_keys() as read:
            while not state.is_done:
                _show(invocation, state)
                for key in read():
                    state = pressed(invocation.desk, state, key)
                    if state.is_done:
                        break
    finally:
        screen.write(_OLD_SCREEN)
        screen.flush()
    return state.request


def _show(invocation: Invocation, state: Guided) -> None:
    try:
        width, height = os.get_terminal_size(sys.stderr.fileno())
    except OSError:
        width, height = 80, 24
    color = not invocation.settings.is_plain()
    lines = screen_lines(state, width=width or 80, height=height or 24, units=invocation.units, color=color)
    # Written at once: a screen that is cleared first flickers.
    sys.stderr.write(_HOME + "".join(f"{line}\x1b[K\r\n" for line in lines[:-1]) + f"{lines[-1]}\x1b[K{_CLEAR_REST}")
    sys.stderr.flush()


def pressed(desk: Desk, state: Guided, key: str) -> Guided:
    """Return what stands on the screen after a key. RefusedError where the person leaves."""
    state = replace(state, said="")
    if key == Key.ESCAPE:
        if state.text:
            return _typed(desk, state, "")
        raise RefusedError("declined", "Left without making a task; nothing was kept.")
    if key == Key.ENTER:
        return _entered(desk, state)
    if key == Key.TAB:
        return _closed(desk, state)
    if key == Key.BACKSPACE:
        return _typed(desk, state, state.text[:-1]) if state.text else _taken_back(desk, state)
    if key in (Key.UP, Key.DOWN):
        step = 1 if key == Key.DOWN else -1
        return replace(state, chosen=(state.chosen + step) % max(1, len(state.hits)))
    return _typed(desk, state, state.text + key)


def _typed(desk: Desk, state: Guided, text: str) -> Guided:
    """Search what has been typed so far; a zone and a position are no search."""
    from taskdb.core.course.zones import is_zone_text
    from taskdb.core.notation import looks_like_position
    from taskdb.services.waypoints.waypoint import FindRequest, find_waypoints

    if not text.strip() or is_zone_text(text) or looks_like_position(text):
        return replace(state, text=text, hits=(), total=0, chosen=0)
    found = find_waypoints(desk, FindRequest(text.strip(), state.draft.set_at, limit=MOST_HITS))
    hits = tuple(hit.waypoint for hit in found.waypoints)
    return replace(state, text=text, hits=hits, total=found.total, chosen=0)


def _entered(desk: Desk, state: Guided) -> Guided:
    from taskdb.core.course.zones import is_zone_text, parse_zone
    from taskdb.core.notation import looks_like_position
    from taskdb.services.tasks.building import PointRequest

    text = state.text.strip()
    if not text:
        return _finished(state)
    if is_zone_text(text):
        if not state.points:
            return replace(state, said="A zone follows its point: there is none yet.")
        try:
            zoned = replace(state.points[-1], zone=parse_zone(text))
        except TaskdbError as error:
            return replace(state, said=f"{error.message} {error.hint or ''}".strip())
        return _grown(desk, state, (*state.points[:-1], zoned))
    if state.hits:
        return _grown(desk, state, (*state.points, PointRequest(state.hits[state.chosen].code)))
    if looks_like_position(text):
        return _grown(desk, state, (*state.points, PointRequest(text)))
    return replace(state, said=f"{state.draft.set_at} has no waypoint {text!r}.")


def _finished(state: Guided) -> Guided:
    if len(state.points) < 2:
        return replace(state, said="A task needs at least a start and a finish.")
    if state.draft.task is None:
        return replace(state, said=state.draft.problem or "This is no task yet.")
    return replace(state, is_done=True)


def _closed(desk: Desk, state: Guided) -> Guided:
    """Add the contest's site as the finish; where there is none, the start."""
    from taskdb.services.tasks.building import PointRequest

    site = state.draft.site
    if len(state.points) < 2 and (site is None or [place.code for place in state.draft.places] in ([], [site])):
        where = "back to the start" if site is None else f"to the site, {site}"
        return replace(state, said=f"Tab flies {where}: there is no way to it yet.")
    return _grown(desk, state, (*state.points, PointRequest(site or state.points[0].reference)))


def _taken_back(desk: Desk, state: Guided) -> Guided:
    """Take the last zone back, or the last point that has none of its own."""
    if not state.points:
        return state
    last = state.points[-1]
    if last.zone is not None:
        return _grown(desk, state, (*state.points[:-1], replace(last, zone=None)))
    return _grown(desk, state, state.points[:-1])


def _grown(desk: Desk, state: Guided, points: tuple[PointRequest, ...]) -> Guided:
    """Measure the task with other points; what cannot be looked up stays out, and is said."""
    from taskdb.services.tasks.building import draft_task

    request = replace(state.request, points=points)
    try:
        draft = draft_task(desk, request, state.draft)
    except TaskdbError as error:
        return replace(state, said=error.message)
    return Guided(request, draft)
