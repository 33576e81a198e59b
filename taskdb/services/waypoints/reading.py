"""A file of waypoints read with what only the shipped data know: which countries its words mean."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from heapq import nsmallest
from typing import BinaryIO

from taskdb.core.numbers import counted, some_of
from taskdb.formats.registry import ReadOptions, SetReading, read_set
from taskdb.reference.countries import known_countries

_MOST_TOLD = 8


def read_waypoints(stream: BinaryIO, *, options: ReadOptions | None = None) -> SetReading:
    """Return what `read_set` does, with countries by their two letters; what is no country that is known stays.

    Both are told in the notes.
    """
    reading = read_set(stream, options=options)
    column = reading.records.values.get("country")
    if column is None:
        return reading
    counts = Counter(column)
    counts.pop(None, None)
    codes = known_countries(list(counts))
    read = {text: counts[text] for text, code in codes.items() if code != text}
    unread = {text: count for text, count in counts.items() if text not in codes} if len(codes) < len(counts) else {}
    if not read and not unread:
        return reading
    if read:
        reading.records.values["country"] = column.mapped(lambda text: codes.get(text, text))
    notes = [*reading.decided.notes]
    if read:
        pairs = some_of([f"{text} as {codes[text]}" for text in _commonest(read)], _MOST_TOLD, count=len(read))
        notes.append(f"countries by their two letters in {counted(sum(read.values()), 'row')}: {pairs}")
    if unread:
        words = some_of([*map(repr, _commonest(unread))], _MOST_TOLD, count=len(unread))
        notes.append(
            f"no countries that are known, and kept as they are, in {counted(sum(unread.values()), 'row')}: {words}"
        )
    return replace(reading, decided=replace(reading.decided, notes=tuple(notes)))


def _commonest(counts: dict[str, int]) -> list[str]:
    """Return those that are told, the commonest first."""
    return nsmallest(_MOST_TOLD, counts, key=lambda text: (-counts[text], text))
