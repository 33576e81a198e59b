"""The change notice for members: what differs between two revisions of a set, and why, as one page."""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.history.facts import Counts, count_facts, facts_of, within_tolerance
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Units
from taskdb.errors import UsageError
from taskdb.files.writing import write_new
from taskdb.services.desk import Desk
from taskdb.services.references import task_title
from taskdb.services.sets.history import difference_between, reasons_between, resolve_two, touched_by
from taskdb.store import sets as set_rows, tasks as task_rows


@dataclass(frozen=True)
class NoticeWritten:
    old: str
    new: str
    path: str
    bytes: int
    counts: Counts
    tasks: int


def write_notice(
    desk: Desk,
    old: str,
    new: str | None,
    path: str,
    *,
    tolerance_m: float = 0.0,
    units: Units = Units.KM,
    overwrite: bool = False,
) -> NoticeWritten:
    """Write the notice of what changed between two revisions of one set. UsageError for revisions of two sets."""
    from taskdb.report.notice import Notice, NoticeRevision, render_notice

    with desk.store.reading() as c:
        first, second = resolve_two(c, old, new)
        if first.head.id != second.head.id:
            example = command_line("set notice", f"{second.head.name}@1", str(second), options=["--to", "FILE.html"])
            raise UsageError(
                "two-sets",
                f"A notice is about one set; {first} and {second} are revisions of two.",
                hint=f"E.g. {example}",
            )
        difference, _ = within_tolerance(difference_between(c, first, second)[0], tolerance_m)
        touched = [*difference.retired, *difference.added, *(new_one for _, new_one in difference.changed)]
        identities = [w.identity for w in touched if w.identity is not None]
        tasks = task_rows.tasks_using(c, identities)
        notes = {info.number: info.note for info in reasons_between(c, first, second) if info.note}
        touching = touched_by(c, first, second, identities)
        ends = [set_rows.revision_info(c, at.head.id, at.revision) for at in (first, second)]
    revisions = [
        NoticeRevision(info.number, info.at[:10], info.label, info.note, info.valid_from)
        for info in ends
        if info is not None
    ]
    facts = tuple(facts_of(change) for change in difference.changed)
    notice = Notice(
        set_name=first.head.name,
        old=revisions[0],
        new=revisions[1],
        counts=count_facts(difference, facts),
        changed=facts,
        added=difference.added,
        retired=difference.retired,
        reasons={
            identity: list(dict.fromkeys(notes[number] for number in numbers if number in notes))
            for identity, numbers in touching.items()
        },
        tasks=[(task_title(use.head), use.codes) for use in tasks],
    )
    size = write_new(path, render_notice(notice, units=units).encode("utf-8"), overwrite=overwrite)
    return NoticeWritten(str(first), str(second), path, size, notice.counts, len(tasks))
