"""What a task is held against: the revisions of airspace that its contest pins, or those named at the command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.airspace.changes import airspace_changes
from taskdb.core.model import AirspacePin
from taskdb.core.names import clean_text
from taskdb.core.numbers import some_of
from taskdb.core.pasted import command_line
from taskdb.errors import UsageError
from taskdb.services.references import not_found, resolve_airspace
from taskdb.store import airspaces as airspace_rows

if TYPE_CHECKING:
    from taskdb.core.airspace.volume import Volume
    from taskdb.core.model import Contest
    from taskdb.store.engine import Connection

_MOST_TOLD = 5


@dataclass(frozen=True)
class HeldAgainst:
    """The volumes of all revisions together, where they are from in words, and what changed since they were pinned.

    Empty where a task is held against no airspace.
    """

    pins: tuple[AirspacePin, ...] = ()
    volumes: tuple[Volume, ...] = ()
    source: str | None = None
    moved_on: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what a review says of it: where it is from, and what changed since."""
        if self.source is None:
            return ()
        return (f"airspace {self.source}: from your own files, and may be old", *self.moved_on)


def pins_of(c: Connection, references: Sequence[str]) -> tuple[AirspacePin, ...]:
    """Return the revisions that are named, in order of name. UsageError where one airspace is named twice."""
    found: dict[str, AirspacePin] = {}
    for reference in references:
        at = resolve_airspace(c, reference)
        if at.head.name in found:
            raise UsageError("named-twice", f"The airspace {at.head.name!r} is named twice.", hint="Name it once.")
        found[at.head.name] = AirspacePin(at.head.name, at.revision)
    return tuple(found[name] for name in sorted(found))


def held_against(c: Connection, contest: Contest | None, named: Sequence[str] = ()) -> HeldAgainst:
    """Return what tasks of a contest are held against: what is named, else what the contest pins, else nothing."""
    pins = pins_of(c, named) if named else contest.airspace if contest is not None else ()
    return held_at(c, pins)


def held_at(c: Connection, pins: Sequence[AirspacePin]) -> HeldAgainst:
    """Return what tasks are held against at these revisions."""
    volumes: list[Volume] = []
    sources, moved_on = [], []
    for pin in pins:
        head = airspace_rows.find_airspace(c, pin.name)
        assert head is not None  # a pin's airspace is there by its key, a named one was found
        standing = airspace_rows.volumes_at(c, head.id, pin.revision)
        info = airspace_rows.airspace_info(c, head.id, pin.revision)
        file = f", {info.source}" if info.source else ""
        sources.append(f"{pin} of {info.at[:10]}{file}")
        volumes += standing
        if head.newest > pin.revision:
            moved_on.append(_moved_on(pin, head.newest, standing, airspace_rows.volumes_at(c, head.id, head.newest)))
    return HeldAgainst(tuple(pins), tuple(volumes), "; ".join(sources) or None, tuple(moved_on))


def _moved_on(pin: AirspacePin, newest: int, before: Sequence[Volume], after: Sequence[Volume]) -> str:
    """Return a sentence on what changed since a revision was pinned."""
    changes = airspace_changes(before, after)
    told = [f"{change.after.name} {', '.join(change.words)}" for change in changes.changed]
    told += [f"{volume.name} came" for volume in changes.added]
    told += [f"{volume.name} went" for volume in changes.retired]
    what = some_of(told, _MOST_TOLD) if told else "the same volumes"
    return f"held against {pin}, the newest is {pin.name}@{newest}: {what}"


def volumes_named(c: Connection, references: Sequence[str]) -> tuple[Volume, ...]:
    """Return the volumes that `NAME`, `NAME@R` or `NAME:VOLUME` name, together. NotFoundError with nearest names."""
    found: list[Volume] = []
    for reference in references:
        name, colon, wanted = reference.partition(":")
        at = resolve_airspace(c, name)
        volumes = airspace_rows.volumes_at(c, at.head.id, at.revision)
        chosen = [volume for volume in volumes if volume.name == clean_text(wanted)] if colon else list(volumes)
        if colon and not chosen:
            names = [volume.name for volume in volumes]
            raise not_found("volume", wanted, names, command_line("airspace show", at.head.name))
        found += chosen
    return tuple(found)
