"""What every reader of airspace is told and what it hands back: raw volumes in, volumes and all problems out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from taskdb.core.airspace.rings import RawRing
from taskdb.core.airspace.volume import Volume
from taskdb.core.model import Position, RowProblem
from taskdb.core.names import fold
from taskdb.errors import InputError, UsageError
from taskdb.formats.limits import require_found, too_large

FIELDS = ("name", "kind", "floor", "ceiling", "times", "frequency")
"""What is read of a volume besides its ground, in the order in which it is told."""
KNOWN = MappingProxyType(
    {
        "name": ("name",),
        "kind": ("kind", "type", "class"),
        "floor": ("floor", "lowerlimit", "lower limit"),
        "ceiling": ("ceiling", "upperlimit", "upper limit"),
        "times": ("times",),
        "frequency": ("frequency",),
    }
)
"""The properties under which a field is looked for where the user names none, folded, the first that is there."""
MOST_VOLUMES = 20_000
_MOST_TOLD = 12


def require_volumes(count: int, aside: int) -> None:
    """Refuse a file as soon as it has too many areas, or so much else and none: the rest need not be read."""
    if count > MOST_VOLUMES:
        raise too_large(f"has more than {MOST_VOLUMES:,} areas", "Split it into several files.")
    require_found(count, aside, "areas", "no-volumes")


@dataclass(frozen=True, slots=True)
class AirspaceOptions:
    """How a file of airspace is to be read. `properties`: the file's name of a field, where it is another one.

    `repair` mends rings and repeated names, and says so. `region` are waypoints of the club, against which exchanged
    axes show.
    """

    format: str | None = None
    encoding: str | None = None
    properties: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    repair: bool = False
    region: Sequence[Position] = ()


@dataclass(frozen=True, slots=True)
class RawVolume:
    """A volume as it stands in a file: the line on which it begins, its properties as texts, its rings in degrees.

    `short_way`: edges of more than half a turn go the short way (KML, AIXM). `problem`: why it cannot be read at all.
    """

    line: int
    texts: Mapping[str, str]
    polygons: Sequence[Sequence[RawRing]] = ()
    short_way: bool = False
    problem: RowProblem | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AirspaceReading:
    """What a file holds: sound volumes in order of name, every problem of every other one, and what was decided.

    `mended` are sentences on what `repair` did, `notes` on what was taken for granted or left aside; `properties`
    says which property of the file was read as which field.
    """

    format: str
    encoding: str
    volumes: tuple[Volume, ...]
    problems: tuple[RowProblem, ...] = ()
    mended: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    properties: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


def chosen_properties(raws: Sequence[RawVolume], options: AirspaceOptions) -> dict[str, str]:
    """Return which property of the file is read as which field: the one that was named, else a known one.

    UsageError for an unknown field, InputError where none of the volumes has a property that was named.
    """
    there: dict[str, str] = {}
    for raw in raws:
        for name in raw.texts:
            there.setdefault(name, fold(name))
    chosen = {}
    for wanted in options.properties:
        if wanted not in FIELDS:
            raise UsageError(
                "unknown-field",
                f"{wanted!r} is nothing that a volume has.",
                hint=f"Write --property FIELD=NAME with one of: {', '.join(FIELDS)}.",
            )
    for own in FIELDS:
        told = options.properties.get(own)
        if told is not None:
            match = told if told in there else next((n for n, folded in there.items() if folded == fold(told)), None)
            if match is None:
                raise InputError(
                    "no-such-property",
                    f"No volume of the file has a property {told!r}.",
                    hint=f"Its properties: {', '.join(list(there)[:_MOST_TOLD]) or 'none'}.",
                )
            chosen[own] = match
            continue
        for known in KNOWN[own]:
            match = next((name for name, folded in there.items() if folded == known), None)
            if match is not None:
                chosen[own] = match
                break
    return chosen
