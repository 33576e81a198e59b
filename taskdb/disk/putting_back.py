"""What a swap of many files is going to do, written down first, so that whoever finds it half done can put all back.

The plan lies in the private folder in which the files are staged, beside what stood in each place. It goes when the
swap is done. A place that somebody has changed since is left alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath

from taskdb.disk.paths import stays_inside

_PLAN = "plan.json"
_LARGEST_PLAN = 64 << 20


@dataclass(frozen=True, slots=True)
class Swap:
    """One place: its path within the target, the SHA-256 of what comes there (None: it goes), if something stood there.

    What stood there is kept in the stage as `old-N`, N counting the swaps from 0.
    """

    path: str
    sha256: str | None
    stood: bool


def kept_as(stage: Path, number: int) -> Path:
    """Return where what stood in a place is kept."""
    return stage / f"old-{number}"


def write_plan(stage: Path, swaps: Sequence[Swap]) -> None:
    """Bring the plan to the disk, whole, before the first swap."""
    beside = stage / "plan.new"
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
        stream.write(json.dumps([asdict(swap) for swap in swaps]).encode("utf-8", "surrogatepass"))
        stream.flush()
        os.fsync(stream.fileno())
    beside.replace(stage / _PLAN)


def has_plan(stage: Path) -> bool:
    """Say whether a swap is under way, or did not end."""
    return (stage / _PLAN).exists()


def drop_plan(stage: Path) -> None:
    """Say that all is done: from here on nothing is put back."""
    (stage / _PLAN).unlink(missing_ok=True)


def put_back(stage: Path) -> bool:
    """Put back what a swap that did not end has changed; say whether nothing is left to do."""
    try:
        swaps = _read(stage / _PLAN)
        for number, swap in reversed(list(enumerate(swaps))):
            _put_back(stage.parent, swap, kept_as(stage, number))
    except OSError:
        return False
    return True


def _read(plan: Path) -> list[Swap]:
    """Return the swaps of a plan; none where there is no plan, or none of ours."""
    if not plan.is_file() or plan.stat().st_size > _LARGEST_PLAN:
        return []
    try:
        swaps = [Swap(str(one["path"]), one["sha256"], bool(one["stood"])) for one in json.loads(plan.read_bytes())]
    except (ValueError, KeyError, TypeError, RecursionError):
        return []
    return swaps


def _put_back(target: Path, swap: Swap, kept: Path) -> None:
    if not _is_inside(target, swap.path):
        return
    place = target / swap.path
    if swap.sha256 is None:
        if kept.exists() and not os.path.lexists(place):
            kept.replace(place)
        return
    if place.is_symlink() or not place.is_file() or _digest(place) != swap.sha256:
        return
    if not swap.stood:
        place.unlink()
        remove_empty(place.parent, target)
    elif os.path.lexists(kept):
        kept.replace(place)


def remove_empty(folder: Path, target: Path) -> None:
    """Remove a folder that was left empty, and those above it, up to the target."""
    with suppress(OSError):
        while folder != target:
            folder.rmdir()
            folder = folder.parent


def _is_inside(target: Path, path: str) -> bool:
    if not stays_inside(path):
        return False
    return not any((target / parent).is_symlink() for parent in PurePosixPath(path).parents if parent.name)


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
