"""Undoing an operation: by making new revisions, and only where all that it wrote still stands as it left it.

Undoing is itself an operation; undoing an undo is redoing. What has been changed since is listed, with the operation
that changed it, and nothing is done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.errors import NotFoundError, RefusedError
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.store.undo_steps import Obstacle, Stands, Step, plan_undo
from taskdb.store import undoing as undo_rows

if TYPE_CHECKING:
    from taskdb.core.kept import OperationHead
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class Undone:
    """What was undone, by which operation, and what stands now. `redone` is what undoing an undo brought back."""

    undone: OperationHead
    operation: int
    stands: tuple[Stands, ...]
    redone: OperationHead | None
    backup: str | None = None
    """Where the store was kept as it was before, on SQLite."""


def undo(desk: Desk, number: int | None, write: Write) -> Undone:
    """Undo the author's newest operation that is neither an undo nor undone, or the one of that number.

    Raises NotFoundError where there is none; RefusedError where something that it wrote was changed since (with the
    list) or where it is undone already; asks where the one named is another's.
    """

    def work(writing: Writing) -> Undone:
        c = writing.connection
        found = _newest(c, desk) if number is None else _named(c, desk, number, write)
        written = undo_rows.written_by(c, found.number)
        if written.is_nothing:
            raise RefusedError(
                "nothing-written",
                f"Operation {_called(found)} wrote nothing that could be undone: what was handed out stays on record.",
                hint="`taskdb log` shows what each operation wrote.",
                details={"operation": found.number},
            )
        steps = plan_undo(writing, written)
        _require_unchanged(c, found, steps)
        stands = tuple(step.run() for step in steps)
        undo_rows.mark_undoes(writing, found.number)
        redone = undo_rows.operation_head(c, found.undoes) if found.undoes is not None else None
        return Undone(found, writing.operation_id, stands, redone)

    done, backup = desk.write_with_backup(write, work)
    return replace(done, backup=str(backup) if backup is not None else None)


def _newest(c: Connection, desk: Desk) -> OperationHead:
    """Return the author's newest operation; others may have written since, which is no obstacle by itself."""
    found = undo_rows.newest_to_undo(c, desk.author)
    if found is not None:
        return found
    theirs = undo_rows.newest_to_undo(c)
    if theirs is None:
        hint = "`taskdb log` shows what was written, and undone."
    else:
        hint = f"The newest is {_called(theirs)}, by {theirs.author}: taskdb undo {theirs.number}"
    raise NotFoundError(
        "nothing-to-undo",
        "There is nothing to undo." if theirs is None else f"There is nothing of {desk.author} to undo.",
        hint=hint,
        details={"newest": theirs.number if theirs is not None else None},
    )


def _named(c: Connection, desk: Desk, number: int, write: Write) -> OperationHead:
    found = undo_rows.operation_head(c, number)
    if found is None:
        raise NotFoundError(
            "operation-not-found",
            f"There is no operation {number}.",
            hint="`taskdb log` lists the operations with their numbers.",
            details={"operation": number},
        )
    _require_not_undone(c, found)
    if found.author != desk.author:
        require_confirmed(
            write, f"Operation {_called(found)} is by {found.author}, not by {desk.author}. Undo it?",
            operation=number, author=found.author,
        )  # fmt: skip
    return found


def _require_not_undone(c: Connection, found: OperationHead) -> None:
    by = undo_rows.undone_by(c, found.number)
    if by is not None:
        raise RefusedError(
            "already-undone",
            f"Operation {_called(found)} is undone already, by operation {by}.",
            hint=f"To bring it back, undo that one: taskdb undo {by}",
            details={"operation": found.number, "undone_by": by},
        )


def _require_unchanged(c: Connection, found: OperationHead, steps: list[Step]) -> None:
    obstacles = [obstacle for step in steps for obstacle in step.obstacles]
    if not obstacles:
        return
    later = sorted({o.since for o in obstacles if o.since is not None and o.since != found.number}, reverse=True)
    heads = [head for number in later if (head := undo_rows.operation_head(c, number)) is not None]
    first = ", ".join(f"taskdb undo {head.number} ({head.command})" for head in heads)
    raise RefusedError(
        "changed-since",
        f"Operation {_called(found)} cannot be undone: {len(obstacles)} of the things that it wrote "
        f"{'has' if len(obstacles) == 1 else 'have'} been changed since. Nothing was done.",
        hint=f"Undo what came later first: {first}" if first else "Put right what is listed, then try again.",
        details={
            "operation": found.number,
            "in_the_way": [_obstacle_plain(o) for o in obstacles],
            "lines": [_obstacle_words(o) for o in obstacles],
        },
    )


def _obstacle_plain(obstacle: Obstacle) -> dict[str, object]:
    return {
        "what": obstacle.what,
        "left": obstacle.left,
        "found": obstacle.found,
        "changed_by": obstacle.since,
    }


def _obstacle_words(obstacle: Obstacle) -> str:
    by = f", by operation {obstacle.since}" if obstacle.since is not None else ""
    return f"{obstacle.what}: left {obstacle.left}; now {obstacle.found}{by}"


def _called(head: OperationHead) -> str:
    return f"{head.number} ({head.command}, {head.at})"
