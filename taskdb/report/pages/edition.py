"""What is published of a set: one edition of it, complete in itself, as plain values.

Nothing is read, measured or looked up here; whoever makes an `Edition` has done that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from taskdb.core.history.facts import ChangeFacts
from taskdb.core.model import Finding, Waypoint
from taskdb.core.quantities import Units
from taskdb.report.pages.texts import Language

Line = tuple[tuple[int, int], ...]
"""Vertices of a border as longitude and latitude in 1e-5 degree."""


@dataclass(frozen=True, slots=True)
class Since:
    """What differs from the edition before: its label or revision, and the changes, each side in order of code."""

    label: str
    changed: Sequence[ChangeFacts] = ()
    added: Sequence[Waypoint] = ()
    retired: Sequence[Waypoint] = ()
    reasons: Mapping[str, Sequence[str]] = field(default_factory=lambda: MappingProxyType({}))
    """By identity, the notes of the revisions that touched a waypoint, in order."""


@dataclass(frozen=True, slots=True)
class Magnetic:
    """The magnetic declination at waypoints, degrees east, by code; of which model, and on which date."""

    model: str
    date: str
    degrees: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Edition:
    """A set at a revision. `date` is the day (ISO) it was made; `waypoints` stand in order of code.

    `since` is None for the first edition. `findings` are those to be published, by code; none where none were asked
    for.
    """

    set_name: str
    revision: int
    date: str
    waypoints: Sequence[Waypoint]
    label: str | None = None
    valid_from: str | None = None
    since: Since | None = None
    magnetic: Magnetic | None = None
    findings: Mapping[str, Sequence[Finding]] = field(default_factory=lambda: MappingProxyType({}))
    borders: Sequence[Line] = ()


@dataclass(frozen=True, slots=True)
class Download:
    """A file to take: its path in the publication, what it is, and what its format cannot hold."""

    path: str
    format: str
    bytes: int
    sha256: str
    lost: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tiles:
    """Background pictures of the user's own: their address with {z}, {x} and {y}, and whose they are.

    `origin` is what a page's policy has to allow; empty where the pictures lie in the publication itself, at the
    `zooms` from and to that are there.
    """

    address: str
    attribution: str
    origin: str = ""
    zooms: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Manner:
    """How pages are written: language, title (None: the name), units of distance, and what the map is made with.

    `library` are the files of the map library by name; None where it is not installed, and the map is a picture.
    """

    language: Language = Language.EN
    title: str | None = None
    units: Units = Units.KM
    library: Mapping[str, bytes] | None = None
    tiles: Tiles | None = None
