"""What the three rules on airspace share: which volumes may matter at the heights flown, and how they are told.

Pure words and choices; where courses and zones meet volumes is computed in `core.airspace`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from typing import Any

from taskdb.core.airspace.heights import FlownHeights, that_may_matter
from taskdb.core.airspace.volume import Reference, Volume, volume_plain
from taskdb.core.plain import canonical_json
from taskdb.core.review.rule import Reviewed


@dataclass(frozen=True, slots=True)
class InTheWay:
    """The volumes that are not clear of flying up to the working altitude, and by number whether that is undecided."""

    volumes: tuple[Volume, ...]
    undecided: tuple[bool, ...]

    def evidence(self, numbers: Iterable[int]) -> dict[str, Any]:
        """Return what evidence says of volumes whose heights cannot be compared; nothing where all can."""
        names = [self.volumes[n].name for n in numbers if self.undecided[n]]
        return {"undecided": True, "undecided_volumes": sorted(names)} if names else {}

    def read(self, numbers: Sequence[int]) -> tuple[Any, ...]:
        """Return what a rule reads of volumes: another shape, other limits or another verdict is another finding."""
        return tuple((_state(self.volumes[n]), self.undecided[n]) for n in numbers)


@lru_cache(maxsize=1 << 12)
def _state(volume: Volume) -> str:
    """Return a digest of all that a volume is: its vertices are many, and several rules read them for every task."""
    return sha256(canonical_json(volume_plain(volume)).encode()).hexdigest()


def in_the_way(given: Reviewed) -> InTheWay:
    """Return the volumes that the rules look at; none where the task is held against no airspace."""
    found = that_may_matter(given.airspace, given.flown, given.ground)
    return InTheWay(tuple(volume for volume, _ in found), tuple(undecided for _, undecided in found))


def volume_words(volume: Volume) -> str:
    """Return a volume for people: `Moor (restricted, GND to FL095)`."""
    return f"{volume.name} ({volume.kind}, {volume.floor.text} to {volume.ceiling.text})"


def undecided_words(way: InTheWay, numbers: Sequence[int], flown: FlownHeights) -> str:
    """Return a sentence on why heights could not be compared, to follow another; empty where all could."""
    volumes = [way.volumes[n] for n in numbers if way.undecided[n]]
    if not volumes:
        return ""
    references = {volume.floor.reference for volume in volumes}
    missing = ["the working altitude"] if flown.working_altitude_m is None else []
    if Reference.FL in references and flown.qnh_hpa is None:
        missing.append("the pressure of the day")
    if Reference.AGL in references and flown.ground_m is None:
        missing.append("the height of the ground")
    names = ", ".join(sorted(volume.name for volume in volumes))
    why = f"without {' and '.join(missing)}" if missing else "with what is known of the day"
    return f" Whether it lies above what is flown is undecided {why} ({names})."
