"""A contest's site on another state of the catalogue: carried as what it is, or its loss told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.history.carry import Carried, CarryOver
from taskdb.core.model import Contest
from taskdb.services.references import SetAt, resolve_set
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class SiteCarried:
    """A contest that stands on another set revision; `told` is what became of its site where it is lost."""

    contest: Contest
    told: str | None = None


def on_set(c: Connection, contest: Contest, at: SetAt) -> SiteCarried:
    """Return the contest on a set revision, its site under the code that it has there.

    A site that was renumbered is carried by identity, on another set by the matching; one that nothing surely matches
    is taken out and told: under its old code another place may stand.
    """
    moved = replace(contest, set_name=at.head.name, set_revision=at.revision)
    if contest.site is None:
        return SiteCarried(moved)
    before = resolve_set(c, f"{contest.set_name}@{contest.set_revision}")
    new = set_rows.waypoints_at(c, at.head.id, at.revision)
    ground = CarryOver(
        set_rows.waypoints_at(c, before.head.id, before.revision),
        new,
        set_rows.successors(c, at.head.id, at.revision),
    )
    found = ground.carry_code(contest.site)
    if isinstance(found, Carried):
        return SiteCarried(replace(moved, site=found.place.code))
    may_be = ", ".join(f"{waypoint.code} {waypoint.name}" for waypoint in found.candidates)
    place = f"{contest.site} {found.place.name}".strip() if found.place.name != contest.site else contest.site
    told = (
        f"{contest.name} has no site now: {place} is not surely in {at} ({found.reason})"
        f"{f'; it may be {may_be}' if may_be else ''}. `taskdb contest edit {contest.name!r} --site CODE` names it."
    )
    return SiteCarried(replace(moved, site=None), told)
