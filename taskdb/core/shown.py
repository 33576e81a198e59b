"""What a page for pilots shows, as labelled values in parts, and what differs between an earlier page and a later one.

Pure. Who draws a page says what is on it (`report/sheet_shown.py`); here two such lists are held against each other,
so that a change note, a banner and JSON tell the same, and nothing that is shown can change without being told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from taskdb.core.geodesy import bearing_deg, distance_m
from taskdb.core.model import Position
from taskdb.core.quantities import format_bearing, format_short_distance


@dataclass(frozen=True, slots=True)
class ShownValue:
    """One value as it is printed: `what` it is, its `text`; several of a part may bear one label.

    `follows`: nobody decided it, it follows from other values (a leg's length, an hour of sunset). `said_by`: another
    value of the part, which may hold this one's text too; where it does and is told, this one is not told again.
    """

    what: str
    text: str
    follows: bool = False
    said_by: str | None = None


@dataclass(frozen=True, slots=True)
class ShownPart:
    """Values that belong to one thing. `key` tells which thing it is from one page to the next, `title` names it.

    `in_order`: things of which a page has several in a meaningful order, such as the points of a course. `at` is where
    the thing is, so that a move is told in metres although the printed minutes hide it. `comes_along`: that the thing
    is on the page at all follows from other values.
    """

    key: str
    title: str
    values: tuple[ShownValue, ...]
    in_order: bool = False
    at: Position | None = None
    comes_along: bool = False


@dataclass(frozen=True, slots=True)
class ValueChange:
    """A value that is printed otherwise than before; None: it was not there, or is there no more."""

    where: str
    what: str
    old: str | None
    new: str | None
    follows: bool = False

    @property
    def label(self) -> str:
        """Return what the value is called, with the thing it is of."""
        return f"{self.where}, {self.what}" if self.where else self.what

    def words(self) -> str:
        """Return the change as one line: `label: old → new`."""
        if self.old is None:
            return f"{self.label}: new: {self.new}"
        return f"{self.label}: {self.old} → {'no longer' if self.new is None else self.new}"


@dataclass(frozen=True, slots=True)
class Edition:
    """One state of a task's sheet: the task's revision and fingerprint, and a moment in words for people."""

    revision: int
    fingerprint: str
    at: str


@dataclass(frozen=True, slots=True)
class SheetChange:
    """How a task's sheet differs from an earlier one: `old` was handed out at its time, `new` was made at its own."""

    old: Edition
    new: Edition
    values: tuple[ValueChange, ...]


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A task that was handed out and no longer holds: in `why` it says what became of it."""

    task: str
    edition: Edition
    why: str

    def words(self) -> str:
        """Return it as one line: `A1@2, handed out 2027-05-14 10:12: cancelled`."""
        return f"{self.task}@{self.edition.revision}, handed out {self.edition.at}: {self.why}"


def since_words(values: Sequence[ValueChange]) -> str:
    """Return in one line what differs: `unchanged`, or every value that was decided, else how many follow."""
    if not values:
        return "unchanged"
    decided = [value.words() for value in values if not value.follows]
    following = len(values) - len(decided)
    more = f"{following} figure{'s' if following != 1 else ''} that follow{'s' if following == 1 else ''}"
    return "; ".join([*decided, *([more] if following else [])])


def page_changes(before: Sequence[ShownPart], after: Sequence[ShownPart]) -> tuple[ValueChange, ...]:
    """Return every value that differs, in the order of the later page; what was decided before what follows from it.

    Equal pages give nothing. A thing of which only the place among others changed is told by whoever lists the order.
    """
    found: list[ValueChange] = []
    for old, new in _paired(before, after):
        found.extend(_part_changes(old, new))
    return (*(one for one in found if not one.follows), *(one for one in found if one.follows))


def _paired(
    before: Sequence[ShownPart], after: Sequence[ShownPart]
) -> Iterator[tuple[ShownPart | None, ShownPart | None]]:
    """Pair the parts of two pages: those in an order by their order, the others by key."""
    matcher = SequenceMatcher(a=[part.key for part in before], b=[part.key for part in after], autojunk=False)
    left: dict[str, ShownPart] = {}
    waiting: list[tuple[ShownPart | None, ShownPart | None]] = []
    for tag, a0, a1, b0, b1 in matcher.get_opcodes():
        if tag == "equal":
            waiting.extend(zip(before[a0:a1], after[b0:b1], strict=True))
            continue
        gone = [part for part in before[a0:a1] if part.in_order]
        come = [part for part in after[b0:b1] if part.in_order]
        both = min(len(gone), len(come))
        waiting.extend(zip(gone[:both], come[:both], strict=True))
        waiting.extend((part, None) for part in gone[both:])
        waiting.extend((None, part) for part in come[both:])
        left |= {part.key: part for part in before[a0:a1] if not part.in_order}
        waiting.extend((None, part) for part in after[b0:b1] if not part.in_order)
    for old, new in waiting:
        if old is None and new is not None and not new.in_order:
            yield left.pop(new.key, None), new
        else:
            yield old, new
    for part in left.values():
        yield part, None


def _part_changes(old: ShownPart | None, new: ShownPart | None) -> list[ValueChange]:
    here = new or old
    assert here is not None
    if old is not None and new is not None:
        title = new.title
        moved = _moved(old, new)
    else:
        title, moved = here.title, None
    if here.in_order and (old is None or new is None):
        # A point that came or went is told whole, in one line.
        said = {value.what: value.text for value in here.values}
        words = ", ".join(
            f"{value.what} {value.text}" for value in here.values if value.text not in said.get(value.said_by or "", "")
        )
        return [ValueChange("", title, None, words) if old is None else ValueChange("", title, words, None)]
    changes: list[ValueChange] = []
    labels = dict.fromkeys(value.what for part in (new, old) if part is not None for value in part.values)
    for label in labels:
        texts = [
            [value.text for value in part.values if value.what == label] if part is not None else []
            for part in (old, new)
        ]
        follows = (here.comes_along and (old is None or new is None)) or all(
            value.follows for part in (old, new) if part is not None for value in part.values if value.what == label
        )
        told = [ValueChange(title, label, a, b, follows) for a, b in _differing(*texts)]
        by = next((v.said_by for part in (new, old) if part is not None for v in part.values if v.what == label), None)
        changes += [one for one in told if not _is_said(one, [other for other in changes if other.what == by])]
    if moved is None:
        return changes
    if any(change.what == POSITION for change in changes):
        return [_with_distance(change, moved) for change in changes]
    return [ValueChange(title, POSITION, "as printed", f"the same in print, {moved}"), *changes]


POSITION = "position"
"""What the printed place of a part is called."""


def _is_said(change: ValueChange, by: Sequence[ValueChange]) -> bool:
    """Say whether another change, of a value that holds this one's texts, tells it already."""
    return any(
        (change.old is None or change.old in (other.old or ""))
        and (change.new is None or change.new in (other.new or ""))
        for other in by
    )


def _moved(old: ShownPart, new: ShownPart) -> str | None:
    if old.at is None or new.at is None or old.at == new.at:
        return None
    towards = bearing_deg(old.at, new.at)
    direction = "" if towards is None else f" towards {format_bearing(towards)}°"
    return f"{format_short_distance(distance_m(old.at, new.at))}{direction}"


def _with_distance(change: ValueChange, moved: str) -> ValueChange:
    if change.what != POSITION or change.new is None:
        return change
    return ValueChange(change.where, change.what, change.old, f"{change.new} ({moved})", change.follows)


def _differing(old: Sequence[str], new: Sequence[str]) -> Iterator[tuple[str | None, str | None]]:
    """Pair the texts of one label that differ; what is only in one of both stands alone."""
    for tag, a0, a1, b0, b1 in SequenceMatcher(a=list(old), b=list(new), autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        both = min(a1 - a0, b1 - b0)
        yield from zip(old[a0 : a0 + both], new[b0 : b0 + both], strict=True)
        yield from ((text, None) for text in old[a0 + both : a1])
        yield from ((None, text) for text in new[b0 + both : b1])
