"""Proposing tasks: all courses of a shape that a set holds round a place, weighed, and some of the best that differ."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.course.likeness import likeness
from taskdb.core.model import Earth, Place, Position, Task
from taskdb.core.names import require_name
from taskdb.core.proposing import criteria as by
from taskdb.core.proposing.criteria import weights_with
from taskdb.core.proposing.wanted import Wanted
from taskdb.errors import RefusedError, UsageError
from taskdb.services.desk import Desk, Write
from taskdb.services.references import task_title
from taskdb.services.tasks.basis import Basis, basis_for, resolve_place
from taskdb.services.tasks.building import class_of, require_free_name
from taskdb.services.tasks.keeping import measured, save_task
from taskdb.services.tasks.proposal_areas import TRIED_FOR_ONE, AreaFitter, TaskMaker
from taskdb.services.tasks.proposal_page import require_page, write_page
from taskdb.services.tasks.proposal_values import Proposal, ProposalRequest, Proposed
from taskdb.store import task_lines, task_search

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.core.proposing.blocks import Block
    from taskdb.core.proposing.choosing import Shown
    from taskdb.core.proposing.wanted import Blocked
    from taskdb.services.tasks.proposal_grounds import Grounds
    from taskdb.store.engine import Connection, Writing

SHOWN = 10
_UNKNOWN = {
    by.OUT_OF_REACH: "the ground differs by more than 300 m, and no terrain is named (--terrain DIR, --ignore-terrain)",
    by.SUN: "a leg cannot be flown in the wind at the planned speed",
    by.FINISHERS: "nothing alike was flown",
}
"""Why a figure may not be known of a course, by criterion."""
MOST_LISTED = 250_000
"""So many courses can be listed at once; what has more is counted, and its best shown."""


@dataclass(frozen=True)
class _Search:
    """What was found, with what it was found on."""

    basis: Basis
    grounds: Grounds
    found: Proposed


def propose_tasks(desk: Desk, request: ProposalRequest, write: Write) -> Proposed:
    """Return the courses that fit and the best of them that differ.

    With `save` these become tasks in one operation, with `to` a page of their maps is written. UsageError for what
    describes no course, NotFoundError for names that are none, RefusedError where a task or a file stands already.
    """
    if request.show_all and (request.save or request.to):
        raise UsageError(
            "all-and-keep", "--all lists every course; --save and --to keep those shown.", hint="Not both."
        )
    if request.show_all and request.areas is not None:
        raise UsageError(
            "all-and-areas", "--all lists every course; areas are fitted to those shown.", hint="Not both."
        )
    if request.to is not None:
        require_page(request.to, overwrite=request.overwrite)
    if request.save is None:
        with desk.store.reading() as c:
            search = _searched(c, desk, request)
            return _with_page(c, request, search, preview=write.preview)
    prefix = require_name(request.save, what="task", colon=True)

    def work(writing: Writing) -> Proposed:
        c = writing.connection
        basis = basis_for(c, request.contest, request.set_reference)
        search = writing.once((basis.at, basis.contest_head), lambda: _searched(c, desk, request))
        if not search.found.proposals:
            writing.abandon()
            return search.found
        names = _saved(writing, request, search, prefix)
        return replace(_with_page(c, request, search, preview=write.preview), saved=names)

    return desk.write(write, work)


def _with_page(c: Connection, request: ProposalRequest, search: _Search, *, preview: bool) -> Proposed:
    if request.to is None or not search.found.proposals:
        return search.found
    tasks = _tasks(c, request, search, [f"Proposal {n}" for n in range(1, len(search.found.proposals) + 1)])
    written = write_page(request, search.found, search.grounds, tasks, preview=preview)
    return replace(search.found, page=written)


def _tasks(c: Connection, request: ProposalRequest, search: _Search, names: Sequence[str]) -> list[Task]:
    """Return those shown as tasks of these names, with their areas or the zones that hold for them."""
    maker = TaskMaker(c, request, search.basis, search.found.earth)
    shown = zip(names, search.found.proposals, strict=True)
    return [maker.task(name, proposal.codes[1:-1], proposal.areas) for name, proposal in shown]


def _saved(writing: Writing, request: ProposalRequest, search: _Search, prefix: str) -> tuple[str, ...]:
    """Make those shown tasks under the names `PREFIX 1`, `PREFIX 2`, …"""
    contest_id = search.basis.contest_id
    names = [f"{prefix} {number}" for number in range(1, len(search.found.proposals) + 1)]
    for name in names:
        require_free_name(writing.connection, name, contest_id)
    tasks = _tasks(writing.connection, request, search, names)
    for task in tasks:
        measured(writing, task)
    for task in tasks:
        save_task(writing, None, contest_id, task)
    return tuple(names)


def _searched(c: Connection, desk: Desk, request: ProposalRequest) -> _Search:
    from taskdb.core.proposing.choosing import best_that_differ, every_one
    from taskdb.core.proposing.judging import Judge
    from taskdb.core.proposing.search import courses
    from taskdb.services.tasks.proposal_grounds import grounds_of

    weights = weights_with(request.weights)
    basis = basis_for(c, request.contest, request.set_reference)
    if basis.contest is None and (request.day is not None or request.class_name is not None):
        option = "--day" if request.day is not None else "--class"
        raise UsageError("no-contest", f"{option} is of a contest, and none is named.", hint="Give --contest NAME.")
    class_of(basis.contest, request.class_name)
    earth = _earth(request, basis)
    home = resolve_place(c, request.home, basis.at)
    grounds = grounds_of(c, desk, request, basis, home, earth)
    judge = Judge(grounds.given, weights)
    places = grounds.given.places.positions
    found = courses(places[:-1], home.position, _wanted(request, basis, earth, grounds.blocked))
    base = Proposed(
        set_at=str(basis.at), home=home, shape=request.shape, start=request.start, least_m=request.least_m,
        most_m=request.most_m, earth=earth, candidates=len(places) - 1, total=0, proposals=(), weights=judge.weights,
        left_out=judge.left_out, usual={}, apart_m=request.apart_m, notes=grounds.notes,
    )  # fmt: skip
    if request.show_all:
        total, block = every_one(found, judge.admits, MOST_LISTED)
        if block is None:
            raise _too_many(total)
        listed = tuple(_courses(block.only(slice(request.limit)), home, grounds))
        return _Search(basis, grounds, replace(base, total=total, proposals=listed, weights={}, left_out={}))
    limit = request.limit or SHOWN
    fitter = None
    if request.areas is not None:
        fitter = AreaFitter(TaskMaker(c, request, basis, earth), request.areas)
    suits = None if fitter is None else lambda turns: fitter.suits(_codes(turns, grounds))
    shown = best_that_differ(
        found, judge, apart_m=request.apart_m, limit=limit, suits=suits, most_tried=TRIED_FOR_ONE * limit
    )
    proposals = tuple(_judged(c, shown, home, grounds, request.apart_m))
    if fitter is not None:
        proposals = tuple(replace(one, areas=fitter.fits[one.codes[1:-1]]) for one in proposals)
        base = replace(base, areas=fitter.tried())
    unknown = {name: _UNKNOWN[name] for name in judge.weights if name not in shown.usual and shown.total}
    base = replace(
        base,
        total=shown.total,
        usual=shown.usual,
        weights={name: weight for name, weight in judge.weights.items() if name not in unknown},
        left_out=judge.left_out | unknown,
        notes=(*base.notes, *_notes_on(shown)),
    )
    return _Search(basis, grounds, replace(base, proposals=proposals, is_fewer=len(proposals) < limit))


def _codes(turns: Sequence[int], grounds: Grounds) -> tuple[str, ...]:
    return tuple(grounds.given.waypoints[number].code for number in turns)


def _notes_on(shown: Shown) -> Iterator[str]:
    """Yield of how many courses a figure is not known that is known of others, where a person can do something."""
    for name in (by.OUT_OF_REACH, by.SUN):
        if 0 < shown.unknown.get(name, 0) < shown.total:
            yield f"{name} is not known of {shown.unknown[name]:,} of {shown.total:,} courses: {_UNKNOWN[name]}"


def _earth(request: ProposalRequest, basis: Basis) -> Earth:
    """Return the earth model on which is measured. RefusedError where tasks are to be kept in a contest of another."""
    if request.earth is None or request.earth is basis.rules.earth:
        return basis.rules.earth
    if request.save is not None and basis.contest is not None:
        raise RefusedError(
            "other-earth",
            f"{basis.contest.name!r} measures on {basis.rules.earth}, its tasks cannot be kept on {request.earth}.",
            hint="Leave out --earth, or --save.",
        )
    return request.earth


def _wanted(request: ProposalRequest, basis: Basis, earth: Earth, blocked: Blocked | None) -> Wanted:
    try:
        return Wanted(
            shape=request.shape, least_m=request.least_m, most_m=request.most_m, home=request.start,
            within_m=request.within_m, least_share_percent=request.least_share_percent, earth=earth,
            triangle=basis.rules.triangle, first_deg=request.heading, last_deg=request.heading_home,
            farthest_m=request.farthest_m, blocked=blocked,
        )  # fmt: skip
    except ValueError as error:
        raise UsageError("no-such-course", f"{error}.", hint="taskdb task propose --help shows examples.") from None


def _too_many(total: int) -> RefusedError:
    return RefusedError(
        "too-many",
        f"{total:,} courses fit; at most {MOST_LISTED:,} are listed.",
        hint="Narrow --distance, ask more of the turn points, or leave out --all: then the best are shown.",
        details={"total": total, "most": MOST_LISTED},
    )


def _courses(block: Block, home: Place, grounds: Grounds) -> Iterator[Proposal]:
    """Yield courses without judgement, in their order."""
    columns = (block.length_m, block.perimeter_m, block.margin_percent)
    waypoints = grounds.given.waypoints
    for turns, length_m, *triangle in zip(block.turns.tolist(), *(c.tolist() for c in columns), strict=True):
        perimeter_m, margin = (None if math.isnan(value) else value for value in triangle)
        yield Proposal((home, *(Place.of(waypoints[n]) for n in turns), home), length_m, perimeter_m, margin)


def _judged(c: Connection, shown: Shown, home: Place, grounds: Grounds, apart_m: float) -> Iterator[Proposal]:
    """Yield the courses that are shown with all that is said of them."""
    alike = _saved_near(c, home.position, apart_m)
    for row, proposal in enumerate(_courses(shown.block, home, grounds)):
        yield replace(
            proposal,
            score=float(shown.scores[row]),
            figures={name: _known(column[row]) for name, column in shown.figures.items()},
            values={name: _known(column[row]) for name, column in shown.values.items()},
            like=_like(proposal, alike, apart_m),
        )


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _saved_near(c: Connection, home: Position, apart_m: float) -> list[tuple[TaskHead, tuple[Position, ...]]]:
    """Return the tasks that stand and come near home, with their positions."""
    ids = task_search.tasks_passing(c, [home], apart_m)
    rows, positions = task_lines.tasks_with_ids(c, ids), task_search.positions_of(c, ids)
    return [(rows[i].head, positions[i]) for i in ids if i in rows and not rows[i].head.retired]


def _like(
    proposal: Proposal, saved: Sequence[tuple[TaskHead, tuple[Position, ...]]], apart_m: float
) -> tuple[str, ...]:
    """Return the saved tasks that part from a proposal by less than a distance, the most alike first."""
    course = [place.position for place in proposal.places]
    found = [(likeness(course, positions), head) for head, positions in saved]
    near = [(alike, head) for alike, head in found if alike.apart_m < apart_m]
    near.sort(key=lambda hit: (-hit[0].score, hit[0].apart_m, hit[1].contest_name or "", hit[1].name))
    names = Counter(head.name for _, head in near)
    return tuple(head.name if names[head.name] == 1 else task_title(head) for _, head in near)
