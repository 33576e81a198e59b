"""An edition of a set as it is published: its waypoints, what changed since the edition before, what is known of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from taskdb.core.history.facts import facts_of
from taskdb.reference.outlines import load_outlines
from taskdb.report.pages.borders import borders_near
from taskdb.report.pages.edition import Edition, Magnetic, Since
from taskdb.services.references import SetAt
from taskdb.services.sets.history import difference_between, reasons_between, touched_by
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.core.kept import SetRevisionInfo
    from taskdb.core.model import Finding, Waypoint
    from taskdb.store.engine import Connection


def edition_of(c: Connection, at: SetAt, *, today: str, with_findings: bool) -> Edition:
    """Return a set at a revision as an edition. `today` (ISO) only serves the checks, where findings are asked for."""
    log = {info.number: info for info in set_rows.set_log(c, at.head.id)}
    info = log[at.revision]
    waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
    date = info.at[:10]
    return Edition(
        set_name=at.head.name,
        revision=at.revision,
        date=date,
        waypoints=waypoints,
        label=info.label,
        valid_from=info.valid_from,
        since=_since(c, at, log),
        magnetic=_magnetic(waypoints, info.valid_from or date),
        findings=_findings(c, at, today) if with_findings else {},
        borders=borders_near(load_outlines(), [w.position for w in waypoints]),
    )


def before(revision: int, log: Mapping[int, SetRevisionInfo]) -> int | None:
    """Return the edition before a revision: the newest with a label, else the one before it; None for the first."""
    earlier = [number for number in log if number < revision]
    labelled = [number for number in earlier if log[number].label]
    return max(labelled or earlier, default=None)


def _since(c: Connection, at: SetAt, log: Mapping[int, SetRevisionInfo]) -> Since | None:
    number = before(at.revision, log)
    if number is None:
        return None
    old = SetAt(at.head, number)
    difference, _ = difference_between(c, old, at)
    touched = [*difference.retired, *difference.added, *(new for _, new in difference.changed)]
    identities = [w.identity for w in touched if w.identity is not None]
    notes = {info.number: info.note for info in reasons_between(c, old, at) if info.note}
    reasons = {
        identity: tuple(dict.fromkeys(notes[n] for n in numbers if n in notes))
        for identity, numbers in touched_by(c, old, at, identities).items()
    }
    label = log[number].label or f"{at.head.name}@{number}"
    facts = tuple(facts_of(change) for change in difference.changed)
    return Since(label, facts, difference.added, difference.retired, reasons)


def _magnetic(waypoints: Sequence[Waypoint], date: str) -> Magnetic | None:
    """Return the declination at every waypoint with a runway of known direction; None where the model tells none."""
    from taskdb.reference.magnetic import MODEL, declination

    fields = [w for w in waypoints if any(r.heading_true_deg is not None for r in w.runways)]
    told = {w.code: declination(w.position, date, elevation_m=w.elevation_m or 0.0).degrees for w in fields}
    degrees = {code: round(value, 2) for code, value in told.items() if value is not None}
    return Magnetic(MODEL, date, degrees) if degrees else None


def _findings(c: Connection, at: SetAt, today: str) -> dict[str, list[Finding]]:
    """Return the open findings of the check by the code of each point that they are about."""
    from taskdb.services.checks.check import CheckRequest, run_on

    found: dict[str, list[Finding]] = {}
    for finding in run_on(c, CheckRequest(str(at)), None, today=today).findings:
        if finding.accepted is None:
            for code in dict.fromkeys(finding.codes):
                found.setdefault(code, []).append(finding)
    return found
