"""Which courses meet airspace: a leg passes through it, an area reaches into it, a point or its line lies under it.

The ground alone decides here; whose heights matter is for the caller to choose.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from taskdb.core.airspace.crossing import passages
from taskdb.core.airspace.sharing import share_of_zone, volumes_over_point
from taskdb.core.airspace.volume import Volume
from taskdb.core.course.regions import counted_position
from taskdb.core.model import Role, Task, TaskPoint


def which_meet(tasks: Sequence[Task], volumes: tuple[Volume, ...]) -> tuple[bool, ...]:
    """Return of each task whether its course meets any of the volumes; the legs of all are looked at together."""
    if not volumes:
        return (False,) * len(tasks)
    legs = [
        (number, leg)
        for number, task in enumerate(tasks)
        for leg in pairwise(counted_position(point) for point in task.points)
    ]
    met = {number for (number, _), passed in zip(legs, passages([leg for _, leg in legs], volumes), strict=True)
           if passed}  # fmt: skip
    return tuple(
        number in met or any(_lies_under(point, volumes) for point in task.points) for number, task in enumerate(tasks)
    )


def _lies_under(point: TaskPoint, volumes: tuple[Volume, ...]) -> bool:
    """Say whether any part of an area, or another point or its line, lies under a volume."""
    if point.role is Role.AREA:
        share = share_of_zone(point.zone, point.place.position, volumes)
        if share is not None:
            return share.share > 0
    return bool(volumes_over_point(point.zone, point.place.position, volumes))
