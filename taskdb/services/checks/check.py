"""Checks of a set: running the rules, and living with what they find."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from taskdb.core.checks.certain import by_certainty, sure_mends
from taskdb.core.checks.gazetteer import Gazetteer
from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rule import Rule
from taskdb.core.checks.rules import RULES, run_checks
from taskdb.core.findings import is_at_least, page_of
from taskdb.core.history.changes import diff
from taskdb.core.matching.limits import ONE_PLACE_WITHIN_M
from taskdb.core.model import Acceptance, Finding, Position, Severity, Waypoint
from taskdb.core.names import fold
from taskdb.core.packed_waypoints import ByCode, PackedWaypoints
from taskdb.core.review.rule import Rule as ReviewRule
from taskdb.core.review.rules import RULES as REVIEW_RULES
from taskdb.files.reading import open_input
from taskdb.reference.magnetic import declination
from taskdb.reference.outlines import load_elevation_grid, load_outlines
from taskdb.services.desk import Desk, Progress
from taskdb.services.ground import open_ground, open_terrain
from taskdb.services.logs import StandsRead, read_stands
from taskdb.services.references import SetAt, resolve_set, split_revision
from taskdb.services.waypoints.reading import read_waypoints
from taskdb.store import findings as finding_rows, sets as set_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection


AIRPORTS, PLACES = "airports", "places"
"""The words that name the optional lists: airfields as a reference, and settlements to hold names against."""


@dataclass(frozen=True)
class CheckRequest:
    """What to check and against what: `against` names sets (`SET@R`), files, `airports` or `places`.

    `since` is an older revision of the set: only what changed from it is looked at, and held against it.
    `short_names` asks for names that collide in so many letters, `inspected_since` (ISO date) for old inspections.
    `terrain` is a folder of the user's own heights, `flights` are flight logs: files, folders or zips.
    """

    set_reference: str
    within_m: float = ONE_PLACE_WITHIN_M
    against: tuple[str, ...] = ()
    since: str | None = None
    short_names: int | None = None
    inspected_since: str | None = None
    terrain: str | None = None
    flights: tuple[str, ...] = ()


@dataclass(frozen=True)
class Checked:
    """What the rules found. `findings` holds the accepted ones too, marked."""

    at: SetAt
    checked: int
    findings: tuple[Finding, ...]
    waypoints: Mapping[str, Waypoint]
    """The checked waypoints by code, for showing a finding's points."""
    ground: str = ""
    """Which heights of the ground were used, and how fine they are."""
    flights: str | None = None
    """What flight logs told, None where none were given."""
    credit: str | None = None
    """Who made the list of settlements that names were held against, as its licence asks to say."""

    @cached_property
    def sure(self) -> tuple[Finding, ...]:
        """The findings whose first mend is almost surely right."""
        return sure_mends(self.findings)

    @cached_property
    def mendable(self) -> tuple[Finding, ...]:
        """The findings that have a mend, the most certain first, one a point."""
        return by_certainty(self.findings)

    def worst_at_or_above(self, severity: Severity) -> bool:
        """Say whether a finding that is not accepted is at least this severe."""
        return any(f.accepted is None and is_at_least(f.severity, severity) for f in self.findings)


def check_set(desk: Desk, request: CheckRequest, progress: Progress | None = None) -> Checked:
    """Run every rule that the input allows over a set at a revision, against any number of references.

    `progress` is told what is begun. NotFoundError for a set, revision or file that is not there, InputError for a file
    that cannot be used.
    """
    stands = stands_of(desk, request, progress)
    with desk.store.reading() as c:
        return run_on(c, request, stands, today=desk.now().date().isoformat(), progress=progress)


def stands_of(desk: Desk, request: CheckRequest, progress: Progress | None = None) -> StandsRead | None:
    """Return where gliders stood by the logs that a run is given, None without any.

    Read before the run's transaction: a hundred logs take seconds, and nobody shall wait for them.
    """
    if not request.flights:
        return None
    with desk.store.reading() as c:
        resolve_set(c, request.set_reference)
    return read_stands(request.flights, progress)


def run_on(
    c: Connection,
    request: CheckRequest,
    stands: StandsRead | None,
    *,
    today: str,
    mended: Mapping[str, Waypoint] | None = None,
    progress: Progress | None = None,
) -> Checked:
    """Run the rules within a read or write that is under way; `mended` (by code) stands in for what is kept.

    `stands` are those of the request's flights (`stands_of`).
    """
    at = resolve_set(c, request.set_reference)
    tell = None if progress is None else lambda count: progress(f"{count:,} waypoints read")
    waypoints = set_rows.packed_at(c, at.head.id, at.revision, tell)
    if mended:
        waypoints = PackedWaypoints.of([mended.get(waypoint.code, waypoint) for waypoint in waypoints])
    references = [_reference(c, name) for name in request.against if name != PLACES]
    only = None
    if request.since is not None:
        older = resolve_set(c, request.since)
        before = set_rows.waypoints_at(c, older.head.id, older.revision)
        changes = diff(before, waypoints)
        only = frozenset(w.code for w in (*changes.added, *(new for _, new in changes.changed)))
        references.append(Reference(str(older), "revision", before))
    given = CheckInput(
        set_name=at.head.name,
        revision=at.revision,
        waypoints=waypoints,
        references=tuple(references),
        within_m=request.within_m,
        outlines=load_outlines(),
        elevation=load_elevation_grid(),
        short_name_length=request.short_names,
        inspected_since=request.inspected_since,
        variation_deg=_variation_on(today),
        only=only,
        places=_places(waypoints) if PLACES in request.against else None,
        terrain=open_terrain(request.terrain) if request.terrain is not None else None,
        flights=stands.places if stands is not None else None,
    )
    findings = run_checks(given, accepted=finding_rows.accepted_findings(c, at.head.id), progress=progress)
    return Checked(
        at,
        len(waypoints) if only is None else len(only),
        findings,
        ByCode(waypoints),
        ground=open_ground(request.terrain).source,
        flights=stands.words if stands is not None else None,
        credit=given.places.source if given.places is not None else None,
    )


def _reference(c: Connection, name: str) -> Reference:
    if name == AIRPORTS:
        from taskdb.reference.airports import load_airports

        return Reference(AIRPORTS, "airports", load_airports())
    if set_rows.find_set(c, split_revision(name, what="set")[0]) is not None:
        at = resolve_set(c, name)
        return Reference(str(at), "set", set_rows.waypoints_at(c, at.head.id, at.revision))
    with open_input(name) as stream:
        reading = read_waypoints(stream)
    return Reference(name, "file", [record.waypoint for record in reading.records])


def _places(waypoints: PackedWaypoints) -> Gazetteer:
    """Return the settlements that are named as the points are; never compared as a reference is."""
    from taskdb.reference.places import load_places

    return load_places({fold(name) for name in waypoints.names} - {""})


def _variation_on(date: str) -> Callable[[Position], float]:
    def variation_deg(position: Position) -> float:
        return declination(position, date).degrees or 0.0

    return variation_deg


def findings_about(c: Connection, at: SetAt, codes: frozenset[str]) -> tuple[Finding, ...]:
    """Return what the rules find about some of a set's points, without references: for their users."""
    waypoints = set_rows.packed_at(c, at.head.id, at.revision)
    return run_alone(at, waypoints, only=codes, accepted=finding_rows.accepted_findings(c, at.head.id))


def run_alone(
    at: SetAt,
    waypoints: Sequence[Waypoint],
    *,
    only: frozenset[str] | None = None,
    accepted: Mapping[str, Acceptance] | None = None,
) -> tuple[Finding, ...]:
    """Run the rules that need nothing but a set's points and what is shipped; `only` tells what is about its codes."""
    given = CheckInput(
        set_name=at.head.name,
        revision=at.revision,
        waypoints=waypoints,
        outlines=load_outlines(),
        elevation=load_elevation_grid(),
        only=only,
    )
    return run_checks(given, accepted=accepted)


def list_rules() -> tuple[Rule, ...]:
    """Return every rule in the order in which they run."""
    return tuple(RULES)


def explain_rule(name: str) -> str:
    """Return the user page of a rule, of sets or tasks: what it finds, why, how to mend it, the trap, an example."""
    return page_of(name, (*RULES, *REVIEW_RULES))


def list_review_rules() -> tuple[ReviewRule, ...]:
    """Return every rule of the review of a task in the order in which they run."""
    return tuple(REVIEW_RULES)
