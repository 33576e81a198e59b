"""Patches: writing what changed between two revisions into a file, and merging such a file into a set."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from taskdb.core.history.changes import SetDiff
from taskdb.core.history.decisions import conflict_plain, conflict_words, decisions_plain, read_decisions
from taskdb.core.history.facts import ChangeFacts, facts_of
from taskdb.core.history.locate import Located
from taskdb.core.history.merge import Conflict, Decide, Merged, Take, merge, undecided
from taskdb.core.history.patch import Patch, Reason, patch_text
from taskdb.core.history.patch_reading import read_patch
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.errors import InputError, RefusedError
from taskdb.files.reading import open_input
from taskdb.files.writing import write_new
from taskdb.formats.limits import require_few_lists
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_set
from taskdb.services.sets.history import difference_between, reasons_between, resolve_two, write_difference
from taskdb.store import past, sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskUse
    from taskdb.store.engine import Writing
    from taskdb.store.sets import SetHead

PATCH_LIMIT_BYTES = 32_000_000
"""Held as a whole, and lists of nothing take twenty-four times their text; a patch of 100,000 waypoints is below."""


@dataclass(frozen=True)
class PatchWritten:
    base: str
    goal: str
    path: str
    bytes: int
    added: int
    changed: int
    retired: int


def write_patch(desk: Desk, old: str, new: str | None, path: str, *, overwrite: bool = False) -> PatchWritten:
    """Write what turns one revision into another as a file that another store can take."""
    with desk.store.reading() as c:
        first, second = resolve_two(c, old, new)
        difference, _ = difference_between(c, first, second)
        reasons = tuple(
            Reason(info.number, info.at, info.author, info.note) for info in reasons_between(c, first, second)
        )
    if difference.is_empty:
        raise RefusedError(
            "no-difference",
            f"{first} and {second} do not differ; a patch would be empty.",
            hint=f"`{command_line('set log', second.head.name)}` shows which revisions changed something.",
        )
    text = patch_text(Patch(str(first), str(second), difference, reasons))
    size = write_new(path, text.encode("utf-8"), overwrite=overwrite)
    counts = len(difference.added), len(difference.changed), len(difference.retired)
    return PatchWritten(str(first), str(second), path, size, *counts)


@dataclass(frozen=True)
class ApplyRequest:
    """A patch and where it goes. `take` decides every conflict for one side, `decisions` is a file that decides each.

    `conflicts_path` is where undecided conflicts are written for a person to decide.
    """

    path: str
    into: str
    take: Take | None = None
    decisions: str | None = None
    conflicts_path: str | None = None


@dataclass(frozen=True)
class Applied:
    """What applying a patch did. `revision` is the one that stood before where everything stood already."""

    set_name: str
    revision: int
    count: int
    patch: Patch
    difference: SetDiff
    facts: tuple[ChangeFacts, ...]
    already: int
    decided: tuple[tuple[Conflict, Take], ...]
    located: tuple[Located, ...]
    tasks: tuple[TaskUse, ...]


def _again(request: ApplyRequest, *options: str) -> str:
    return command_line("set apply", request.path, options=["--into", request.into, *options])


class ConflictError(RefusedError):
    """A patch collides with what stands here; nothing was applied."""

    def __init__(self, request: ApplyRequest, conflicts: Sequence[Conflict], written_to: str | None) -> None:
        only_codes = not any(conflict.can_take_theirs for conflict in conflicts)
        if written_to is not None:
            hint = (
                f"Write ours or theirs after each `take` in {written_to}, then: {_again(request, '--take', written_to)}"
            )
        elif only_codes:
            ours = _again(request, "--take", "ours")
            hint = f"Give one of the two another code first, or leave the code as it is here: {ours}"
        else:
            hint = (
                f"Decide all for one side: {_again(request, '--take', 'ours')} (or theirs)\n"
                f"or one by one: {_again(request, '--conflicts', 'decide.json')}"
            )
        number = len(conflicts)
        super().__init__(
            "conflicts",
            f"{request.path} does not fit {request.into}: {counted(number, 'conflict')}. Nothing was applied.",
            hint=hint,
            details={
                "conflicts": [conflict_plain(conflict) for conflict in conflicts],
                "lines": [line for conflict in conflicts for line in conflict_words(conflict)],
                "total": number,
            },
        )


def apply_patch(desk: Desk, request: ApplyRequest, write: Write) -> Applied:
    """Merge a patch into a set as one revision; none where everything stands already.

    Raises ConflictError with every conflict that nothing decides, InputError for a file that is no patch.
    """
    patch = load_patch(request.path)
    decide = _decide(request)

    def work(writing: Writing) -> Applied:
        c = writing.connection
        head = resolve_set(c, request.into).head
        ours = set_rows.waypoints_at(c, head.id, head.newest)
        known = (w.identity for w in patch.difference.bases if w.identity is not None)
        once_here = past.ever_here(c, head.id, known)
        merged = merge(ours, patch.difference, new_identity=desk.new_identity, decide=decide, once_here=once_here)
        if merged.conflicts:
            raise ConflictError(request, merged.conflicts, _write_conflicts(request, merged.conflicts, write))
        return _written(writing, head, len(ours), patch, merged)

    return desk.write(write, work)


def _written(writing: Writing, head: SetHead, count: int, patch: Patch, merged: Merged) -> Applied:
    c, difference = writing.connection, merged.changes
    tasks = task_rows.tasks_using(c, [w.identity for w in difference.bases if w.identity is not None])
    return Applied(
        set_name=head.name,
        revision=write_difference(writing, head, difference),
        count=count + len(difference.added) - len(difference.retired),
        patch=patch,
        difference=difference,
        facts=tuple(facts_of(change) for change in difference.changed),
        already=merged.already,
        decided=merged.decided,
        located=merged.located,
        tasks=tasks,
    )


def load_patch(path: str) -> Patch:
    """Return the patch that a file holds. NotFoundError, InputError (every problem in its details)."""
    patch, problems = read_patch(_load_json(path, "patch"))
    if patch is None:
        raise InputError(
            "not-a-patch",
            f"{path} cannot be used as a patch: {counted(len(problems), 'problem')}.",
            hint="Mend what is listed, or write it anew: taskdb set patch SET@1 SET@2 --to FILE",
            details={
                "problems": [{"place": p.place, "value": p.value, "message": p.message} for p in problems],
                "lines": [f"{p.place}{f', {p.value!r}' if p.value is not None else ''}: {p.message}" for p in problems],
                "total": len(problems),
            },
        )
    return patch


def _load_json(path: str, what: str) -> Any:
    def no_such_number(text: str) -> Any:
        raise ValueError(f"{text} is no number of JSON")

    with open_input(path, PATCH_LIMIT_BYTES) as stream:
        content = stream.read()
    require_few_lists(content)
    try:
        return json.loads(content.decode("utf-8-sig"), parse_constant=no_such_number)
    except UnicodeDecodeError as error:
        reason = f"it is no UTF-8 text ({error.reason} at byte {error.start})"
    except json.JSONDecodeError as error:
        reason = f"line {error.lineno}, column {error.colno}: {error.msg}"
    except (ValueError, RecursionError) as error:
        reason = str(error)
    raise InputError(
        f"not-a-{what.replace(' ', '-')}",
        f"{path} is no {what}: {reason}.",
        hint="It must be JSON as taskdb writes it.",
        details={"path": path},
    )


def _decide(request: ApplyRequest) -> Decide:
    if request.take is not None:
        take = request.take
        return lambda _: take
    if request.decisions is None:
        return undecided
    decide, problems = read_decisions(_load_json(request.decisions, "file of decisions"))
    if problems:
        raise InputError(
            "not-decisions",
            f"{request.decisions} cannot be used as a file of decisions.",
            hint="Let `taskdb set apply … --conflicts FILE` write it, and fill in each `take`.",
            details={"lines": list(problems), "total": len(problems)},
        )
    return decide


def _write_conflicts(request: ApplyRequest, conflicts: Sequence[Conflict], write: Write) -> str | None:
    if request.conflicts_path is None or write.preview:
        return None
    text = json.dumps(decisions_plain(conflicts), ensure_ascii=False, indent=2) + "\n"
    write_new(request.conflicts_path, text.encode("utf-8"), overwrite=write.confirmed)
    return request.conflicts_path
