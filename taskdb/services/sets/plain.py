"""The JSON form of what the services of sets answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.history.decisions import conflict_plain
from taskdb.core.history.writers import changed_plain, counts_plain, diff_plain, located_plain
from taskdb.core.plain import fields_plain, metres, plain, problem_plain
from taskdb.services.waypoints.plain import uses_plain

if TYPE_CHECKING:
    from taskdb.core.history.changes import SetDiff
    from taskdb.core.history.import_plan import Fineness
    from taskdb.services.sets.history import Differed, Restored
    from taskdb.services.sets.importing import ImportResult
    from taskdb.services.sets.notices import NoticeWritten
    from taskdb.services.sets.patches import Applied, PatchWritten


def import_plain(done: ImportResult) -> dict[str, Any]:
    """Return what an import did; of a match how far the row lies from what stood, and how far that moved."""
    return {
        "set": done.set_name,
        "revision": done.revision,
        "read": done.read,
        "added": done.added,
        "changed": done.changed,
        "unchanged": done.unchanged,
        "retired": done.retired,
        "renumbered": done.renumbered,
        "kept_values": done.kept_values,
        "restored_codes": done.restored_codes,
        "rejects": done.rejects_path,
        "findings": None if done.findings is None else dict(done.findings),
        "count": done.count,
        "rejected": [problem_plain(problem) for problem in done.rejected],
        "matches": plain(done.matches),
        "renumberings": plain([match for match in done.matches if match.code != match.old_code]),
        "far_moves": plain([match for match in done.matches if match.is_far_move]),
        **_fineness_plain(done.fineness),
        "decided": plain(done.decided),
        "backup": done.backup,
        **({} if done.filled is None else {"filled": plain(done.filled)}),
    }


def _fineness_plain(fineness: Fineness) -> dict[str, Any]:
    """Return how many waypoints kept a finer value or became finer, and how often each field did."""
    return {
        "kept_finer": fineness.kept,
        "refined": fineness.refined,
        "finer_fields": {"kept": dict(fineness.kept_fields), "refined": dict(fineness.refined_fields)},
    }


def differed_plain(differed: Differed) -> dict[str, Any]:
    """Return a difference; `tasks` stands only where it was asked for."""
    old, new = differed.old, differed.new
    result = diff_plain(
        differed.difference, differed.facts, (old.head.name, old.revision), (new.head.name, new.revision)
    )
    result["counts"] = counts_plain(differed.counts)
    result["tolerance_m"] = metres(differed.tolerance_m)
    result["left_out"] = plain(differed.left_out)
    if differed.tasks is not None:
        result["tasks"] = uses_plain(differed.tasks)
    return result


def notice_plain(done: NoticeWritten) -> dict[str, Any]:
    """Return the change notice that was written."""
    return {
        "from": done.old,
        "to": done.new,
        "path": done.path,
        "bytes": done.bytes,
        "counts": counts_plain(done.counts),
        "tasks": done.tasks,
    }


def patch_written_plain(done: PatchWritten) -> dict[str, Any]:
    """Return the patch that was written."""
    return {"from": done.base, "to": done.goal, **fields_plain(done, but=["base", "goal"])}


def applied_plain(done: Applied) -> dict[str, Any]:
    """Return what applying a patch did."""
    return {
        "set": done.set_name,
        "revision": done.revision,
        "count": done.count,
        "from": done.patch.base,
        "to": done.patch.goal,
        **_lengths(done.difference),
        "already": done.already,
        "changes": [changed_plain(fact) for fact in done.facts],
        "decided": [{**conflict_plain(conflict), "take": take.value} for conflict, take in done.decided],
        "matched": located_plain(done.located),
        "tasks": uses_plain(done.tasks),
    }


def restored_plain(done: Restored) -> dict[str, Any]:
    """Return what restoring an earlier revision did."""
    return {
        "set": done.set_name,
        "revision": done.revision,
        "equal_to": done.equal_to,
        "count": done.count,
        **_lengths(done.difference),
        "tasks": uses_plain(done.tasks),
    }


def _lengths(difference: SetDiff) -> dict[str, int]:
    return {
        "added": len(difference.added),
        "changed": len(difference.changed),
        "retired": len(difference.retired),
    }
