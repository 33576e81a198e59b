"""What a sheet says of earlier ones: the banner of what changed, the page of what no longer holds, the change note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.shown import Edition, SheetChange, Withdrawn
from taskdb.report.lettering import shown

MOST_EDITIONS = 3
"""So many earlier sheets are told on a page, the newest first; the change note tells all."""
MOST_FOLLOWING = 8
"""So many figures that nobody decided, but that follow, are told on a page; each stands on it with its new value."""


@dataclass(frozen=True, slots=True)
class Note:
    """One banner: since which sheet; a row (label, old, new) for what was decided, a sentence for what follows."""

    heading: str
    rows: tuple[tuple[str, str, str], ...] = ()
    following: str = ""


def edition_words(edition: Edition) -> str:
    """Return what names an edition: `revision 2, M9X7-FWR4`."""
    return f"revision {edition.revision}, {edition.fingerprint}"


def change_notes(changes: Sequence[SheetChange]) -> tuple[Note, ...]:
    """Return the banners of a page, the newest earlier sheet first; empty where nothing changed."""
    notes = [Note(_since(change), _rows(change), _following(change)) for change in changes[:MOST_EDITIONS]]
    if len(changes) > MOST_EDITIONS:
        notes.append(Note("Sheets that are older still hold no more: compare the fingerprint."))
    return tuple(notes)


def _since(change: SheetChange) -> str:
    same = change.old.revision == change.new.revision and change.old.fingerprint == change.new.fingerprint
    now = "the same revision and fingerprint" if same else f"now {edition_words(change.new)}"
    return f"{change.new.at}: was {edition_words(change.old)}, handed out {change.old.at}; {now}"


def _rows(change: SheetChange) -> tuple[tuple[str, str, str], ...]:
    decided = [one for one in change.values if not one.follows]
    return tuple((shown(one.label), shown(one.old or "–"), shown(one.new or "no longer")) for one in decided)


def _following(change: SheetChange) -> str:
    following = [one for one in change.values if one.follows]
    said = [shown(one.words()) for one in following[:MOST_FOLLOWING]]
    rest = len(following) - MOST_FOLLOWING
    if rest > 0:
        said.append(f"and {rest} more figure{'s' if rest > 1 else ''} on this sheet that follow from these")
    return " · ".join(said)


def withdrawn_rows(withdrawn: Sequence[Withdrawn]) -> tuple[tuple[str, str, str, str], ...]:
    """Return a row for each task that no longer holds: name, what names its edition, when it went out, what it is."""
    return tuple(
        (shown(one.task, 80), edition_words(one.edition), one.edition.at, shown(one.why, 300)) for one in withdrawn
    )


FIRST = "First hand-out of this day."


def change_note(
    changes: Sequence[tuple[str, Sequence[SheetChange] | None]], withdrawn: Sequence[Withdrawn], *, closing: str
) -> str:
    """Return the text of a hand-out's change note.

    `changes` holds each task as NAME@R with how it differs from earlier hand-outs; none: unchanged, None: it is new.
    Every value is told, also those that follow.
    """
    lines: list[str] = []
    for one in withdrawn:
        lines += [
            f"{one.task}: NO LONGER VALID: {one.why}.",
            f"  It was {edition_words(one.edition)}, handed out {one.edition.at}.",
        ]
    if not withdrawn and all(found is None for _, found in changes):
        lines.append(FIRST)
    for task, found in changes:
        if found is None:
            lines.append(f"{task}: new.")
        elif not found:
            lines.append(f"{task}: unchanged since it was handed out.")
        for change in found or ():
            lines += [f"{task}: CHANGED {_since(change)}", *(f"  {one.words()}" for one in change.values)]
    return "\r\n".join([*lines, "", closing, ""])
