"""The JSON form of what handing out answers, and the sentences in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.findings import findings_that_matter
from taskdb.core.plain import finding_plain, plain
from taskdb.core.shown import since_words

if TYPE_CHECKING:
    from taskdb.services.handing_out.changes import ChangedSheet
    from taskdb.services.handing_out.handout import Handout, TaskHandedOut


def handout_plain(done: Handout) -> dict[str, Any]:
    """Return what was handed out, what changed since, and what no longer holds."""
    return {
        **done.pack.plain(),
        "handout": done.number,
        "tasks": list(done.tasks),
        "changes": [*map(sheet_words, done.sheets), *(withdrawn.words() for withdrawn in done.withdrawn)],
        "differences": [
            {"task": sheet.page.task.name, "new": sheet.is_new, "since": plain(sheet.changes)} for sheet in done.sheets
        ],
        "findings": [
            {"task": task, "findings": [finding_plain(f) for f in findings_that_matter(sheet.page.findings)]}
            for task, sheet in zip(done.tasks, done.sheets, strict=True)
        ],
        "withdrawn": [
            {"task": withdrawn.task, "why": withdrawn.why, "handed_out": plain(withdrawn.edition)}
            for withdrawn in done.withdrawn
        ],
        "to_whom": done.to_whom,
    }


def handed_out_plain(handed: TaskHandedOut) -> dict[str, Any]:
    """Return a hand-out of a task."""
    entry = handed.entry
    return {
        "handout": entry.handout_id,
        "at": entry.at,
        "author": entry.author,
        "to_whom": entry.to_whom,
        "target": entry.target,
        "revision": entry.revision,
        "fingerprint": entry.fingerprint,
        "since": since_words(handed.values),
        "changes": plain(handed.values),
    }


def sheet_words(sheet: ChangedSheet) -> str:
    """Return in one line what differs on a task's sheet: `A1@2: new`, `A1@2: unchanged`, `A1@2: changed since …`."""
    name = f"{sheet.page.task.name}@{sheet.page.revision}"
    if sheet.is_new:
        return f"{name}: new"
    if not sheet.changes:
        return f"{name}: unchanged"
    change = sheet.changes[0]
    return f"{name}: changed since {change.old.at} ({change.old.fingerprint}): {since_words(change.values)}"
