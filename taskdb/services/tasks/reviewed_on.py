"""What the reviews of the tasks on one set find, for who accepts a finding by its id."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.core.model import Finding
from taskdb.services.references import SetAt
from taskdb.services.tasks.keeping import reviewed
from taskdb.services.tasks.review import Together
from taskdb.store import task_lines

if TYPE_CHECKING:
    from taskdb.store.engine import Connection


def finding_of_tasks(c: Connection, at: SetAt, finding_id: str) -> Finding | None:
    """Return the finding of that id of a task that stands on a set, None for none.

    Tasks are reviewed one after the other until it is found.
    """
    together = Together(c, any_set=True)
    for row in task_lines.list_tasks(c):
        if row.set_name == at.head.name:
            review = reviewed(c, row.head, row.revision, together).review
            for finding in review.findings if review is not None else ():
                if finding.id == finding_id:
                    return finding
    return None
