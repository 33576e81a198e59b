"""Conflicts as plain values and words, and the file in which a person decides them one by one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from taskdb.core.history.merge import WHOLE, Conflict, ConflictKind, Decide, Take
from taskdb.core.history.patch import field_plain
from taskdb.core.history.units import RUNWAY
from taskdb.core.history.words import FIELD_WORDS, NOTHING, value_words

SCHEMA = "taskdb.decisions/1"
_COMPARED = ("code", "field", "expected", "found", "wanted")

_WHY = {
    ConflictKind.FIELD: "both changed it",
    ConflictKind.GONE: "the patch changes it, here it no longer stands",
    ConflictKind.CHANGED: "the patch retires it, here it was changed",
    ConflictKind.ADDED: "both added it, with different values",
    ConflictKind.CODE: "the code would stand twice",
}


def conflict_plain(conflict: Conflict) -> dict[str, Any]:
    """Return a conflict as JSON; `take` is for the person who decides."""
    return {
        "code": conflict.code,
        "name": conflict.name,
        "kind": conflict.kind.value,
        "field": conflict.field,
        "why": _WHY[conflict.kind],
        "expected": _side_plain(conflict, conflict.expected),
        "found": _side_plain(conflict, conflict.found),
        "wanted": _side_plain(conflict, conflict.wanted),
        "here": conflict.other,
        "take": None,
    }


def _side_plain(conflict: Conflict, side: Any) -> Any:
    if conflict.field == WHOLE:
        return None if side is None else {unit: _value_plain(unit, value) for unit, value in side.items()}
    return _value_plain(conflict.field, side)


def _value_plain(unit: str, value: Any) -> Any:
    return field_plain("runways" if unit.startswith(RUNWAY) else unit, value)


def conflict_words(conflict: Conflict) -> list[str]:
    """Return a conflict in lines: what it is about, then expected, found and wanted."""
    field = FIELD_WORDS.get(conflict.field, conflict.field)
    head = f"{conflict.code} {conflict.name}".strip()
    if conflict.other is not None:
        head += f" (here {conflict.other})"
    about = head if conflict.field == WHOLE else f"{head}, {field}"
    sides = (("expected", conflict.expected), ("found", conflict.found), ("wanted", conflict.wanted))
    return [f"{about}: {_WHY[conflict.kind]}", *(f"  {label}: {_side_words(conflict, side)}" for label, side in sides)]


def _side_words(conflict: Conflict, side: Any) -> str:
    if conflict.field != WHOLE:
        return value_words(conflict.field, side)
    if side is None:
        return {ConflictKind.CHANGED: "retired", ConflictKind.GONE: "nothing"}.get(conflict.kind, "nothing")
    parts = [f"{FIELD_WORDS.get(unit, unit)} {value_words(unit, value)}" for unit, value in side.items()]
    return ", ".join(parts) or NOTHING


def decisions_plain(conflicts: Sequence[Conflict]) -> dict[str, Any]:
    """Return the file to decide in: every conflict with an empty `take`."""
    return {"schema": SCHEMA, "conflicts": [conflict_plain(conflict) for conflict in conflicts]}


def read_decisions(document: Any) -> tuple[Decide, tuple[str, ...]]:
    """Return what a decisions file decides, and its problems in words.

    A decision counts only for exactly the conflict that it was made on: where expected, found or wanted is another
    by now, nothing is decided.
    """
    problems: list[str] = []
    decided: list[tuple[Mapping[str, Any], Take]] = []
    entries = document.get("conflicts") if isinstance(document, dict) else None
    if not isinstance(entries, list) or document.get("schema") != SCHEMA:
        return (lambda _: None), (f"it is no file of decisions: schema {SCHEMA} with a list `conflicts`",)
    for number, entry in enumerate(entries):
        take = entry.get("take") if isinstance(entry, dict) else "?"
        if take is None:
            continue
        if not isinstance(entry, dict) or take not in (Take.OURS.value, Take.THEIRS.value):
            problems.append(f"conflicts[{number}].take: {take!r} is neither ours, theirs nor null")
            continue
        decided.append((entry, Take(take)))

    def decide(conflict: Conflict) -> Take | None:
        plain = conflict_plain(conflict)
        for entry, take in decided:
            if all(entry.get(name) == plain[name] for name in _COMPARED):
                return take
        return None

    return decide, tuple(problems)
