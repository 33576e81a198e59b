"""What differs between two revisions of an airspace, by the names of its volumes: added, retired, changed and in what.

Pure comparison of values: nothing is matched but by name, and nothing is said of tasks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from taskdb.core.airspace.extent import area_km2, middle_of
from taskdb.core.airspace.volume import Limit, Volume, limit_plain
from taskdb.core.geodesy import distance_m
from taskdb.core.plain import metres
from taskdb.core.quantities import format_short_distance

_FIELDS = ("kind", "floor", "ceiling", "times", "frequency")
_SAME_AREA = 1e-3
_SAME_MIDDLE_M = 10.0


@dataclass(frozen=True, slots=True)
class GroundChange:
    """How a volume's ground changed: its area before and after (km²), and how far its middle moved (m)."""

    before_km2: float
    after_km2: float
    moved_m: float

    @property
    def words(self) -> tuple[str, ...]:
        """Return what happened: `moved`, `grew`, `shrank`, or `redrawn` where area and middle stayed."""
        ratio = self.after_km2 / self.before_km2 - 1 if self.before_km2 else 1.0
        found = ["grew"] if ratio > _SAME_AREA else ["shrank"] if ratio < -_SAME_AREA else []
        if self.moved_m > _SAME_MIDDLE_M:
            found.append("moved")
        return tuple(found or ["redrawn"])


@dataclass(frozen=True, slots=True)
class VolumeChange:
    """One volume that is another now: which fields differ, before and after, and its ground where that differs."""

    before: Volume
    after: Volume
    fields: tuple[str, ...]
    ground: GroundChange | None

    @property
    def words(self) -> tuple[str, ...]:
        """Return the change for people: `grew (120.5 km² to 131.0 km²)`, `floor 1500ft MSL to FL065`."""
        told = []
        if self.ground is not None:
            for word in self.ground.words:
                told.append(
                    f"moved {format_short_distance(self.ground.moved_m)}"
                    if word == "moved"
                    else f"{word} ({self.ground.before_km2:.1f} km² to {self.ground.after_km2:.1f} km²)"
                )
        for name in self.fields:
            old, new = getattr(self.before, name), getattr(self.after, name)
            told.append(f"{name} {_shown(old)} to {_shown(new)}")
        return tuple(told)


@dataclass(frozen=True, slots=True)
class AirspaceChanges:
    """The volumes that came, went and changed, each in order of name."""

    added: tuple[Volume, ...] = field(default=())
    retired: tuple[Volume, ...] = field(default=())
    changed: tuple[VolumeChange, ...] = field(default=())

    def __bool__(self) -> bool:
        return bool(self.added or self.retired or self.changed)


def airspace_changes(before: Sequence[Volume], after: Sequence[Volume]) -> AirspaceChanges:
    """Return what differs from one revision to the next; names are unique in each. Equal ones give nothing."""
    old, new = {one.name: one for one in before}, {one.name: one for one in after}
    both = sorted(old.keys() & new.keys())
    return AirspaceChanges(
        added=tuple(new[name] for name in sorted(new.keys() - old.keys())),
        retired=tuple(old[name] for name in sorted(old.keys() - new.keys())),
        changed=tuple(_change(old[name], new[name]) for name in both if old[name] != new[name]),
    )


def _change(before: Volume, after: Volume) -> VolumeChange:
    fields = tuple(name for name in _FIELDS if getattr(before, name) != getattr(after, name))
    ground = None
    if before.polygons != after.polygons:
        moved = distance_m(middle_of(before), middle_of(after))
        ground = GroundChange(area_km2(before), area_km2(after), moved)
    return VolumeChange(before, after, fields, ground)


def _shown(value: Any) -> str:
    return "none" if value is None else value.text if isinstance(value, Limit) else str(value)


def _plain(value: Any) -> Any:
    return limit_plain(value) if isinstance(value, Limit) else value


def changes_plain(changes: AirspaceChanges) -> dict[str, Any]:
    """Return the JSON form: names added and retired, and of each changed volume its fields as [old, new].

    `area_km2` and `moved_m` are null where the ground is the same; `words` say it for people.
    """
    return {
        "added": [volume.name for volume in changes.added],
        "retired": [volume.name for volume in changes.retired],
        "changed": [
            {
                "name": change.after.name,
                "ground": None if change.ground is None else list(change.ground.words),
                "moved_m": None if change.ground is None else metres(change.ground.moved_m),
                "area_km2": None
                if change.ground is None
                else [round(change.ground.before_km2, 4), round(change.ground.after_km2, 4)],
                "fields": {
                    name: [_plain(getattr(change.before, name)), _plain(getattr(change.after, name))]
                    for name in change.fields
                },
                "words": list(change.words),
            }
            for change in changes.changed
        ],
    }
