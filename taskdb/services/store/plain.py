"""The JSON form of what the services of the store answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.plain import fields_plain, plain

if TYPE_CHECKING:
    from taskdb.core.kept import LoggedOperation, OperationHead
    from taskdb.services.store.store import StoreInfo
    from taskdb.services.store.undo import Undone
    from taskdb.services.store.verify import Verified


def operation_plain(one: LoggedOperation | OperationHead) -> dict[str, Any]:
    """Return an operation of the journal."""
    return {"operation": one.number, **fields_plain(one, but=["number"])}


def info_plain(found: StoreInfo) -> dict[str, Any]:
    """Return what a store is and holds."""
    return {
        **fields_plain(found, but=["counts", "newest"]),
        **plain(found.counts),
        "newest_operation": operation_plain(found.newest) if found.newest else None,
    }


def undone_plain(done: Undone) -> dict[str, Any]:
    """Return what was undone, and what stands now; `redone` is what undoing an undo brought back."""
    return {
        "operation": done.operation,
        "undone": operation_plain(done.undone),
        "redone": None if done.redone is None else operation_plain(done.redone),
        "stands": plain(done.stands),
        "backup": done.backup,
    }


def verified_plain(done: Verified) -> dict[str, Any]:
    """Return what verifying found."""
    return {
        "store": done.store,
        "whole": done.total == 0,
        "task_revisions": done.task_revisions,
        "problems": plain(done.problems),
        "total": done.total,
        "truncated": len(done.problems) < done.total,
    }
