"""The sheet's list of airspace near the course: each volume with a sample of its outline, its limits, times, channel.

Volumes come from the user's files and may be old, which the list says where it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.airspace.volume import Kind, Volume
from taskdb.core.model import Task
from taskdb.core.quantities import Units, format_distance
from taskdb.report.lettering import shown
from taskdb.report.map_airspace import limits_words, sample

MOST_LISTED = 16
CAUTION = "It comes from the user's own files and may be old: current charts and NOTAM decide."
_WORDS_LIMIT = 60


@dataclass(frozen=True, slots=True)
class AirspaceRow:
    """A volume near the course: its name, and in words its kind, limits, times and frequency."""

    name: str
    kind: Kind
    words: str

    @property
    def picture(self) -> str:
        """Return a sample of its outline as markup."""
        return sample(self.kind)


def airspace_rows(task: Task, volumes: Sequence[Volume]) -> tuple[tuple[AirspaceRow, ...], int]:
    """Return up to `MOST_LISTED` volumes near the course in order of name, and how many there are."""
    if not volumes:
        return (), 0
    from taskdb.core.airspace.nearby import volumes_near_course

    given = tuple(volumes)
    near = sorted((given[n] for n in volumes_near_course(task, given)), key=lambda volume: volume.name)
    return tuple(map(_row, near[:MOST_LISTED])), len(near)


def _row(volume: Volume) -> AirspaceRow:
    parts = [volume.kind.value, limits_words(volume)]
    parts += [shown(text, _WORDS_LIMIT) for text in (volume.times, volume.frequency) if text]
    return AirspaceRow(shown(volume.name, _WORDS_LIMIT), volume.kind, ", ".join(parts))


def airspace_words(source: str | None, listed: int, there: int, units: Units) -> str:
    """Return what stands before the list: where it is from, how near, how many; empty where nothing is known of air."""
    if source is None:
        return ""
    from taskdb.core.airspace.nearby import NEAR_COURSE_M

    within = f"within {format_distance(NEAR_COURSE_M, units, 0)} of a leg or a zone"
    count = "none" if not there else f"{listed} of {there}, the map has more" if listed < there else f"{there}"
    return f"{shown(source, 120)}: {count} {within}. {CAUTION}"
