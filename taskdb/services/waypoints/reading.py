"""A file of waypoints read with what only the shipped data know: which countries its words mean."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import BinaryIO

from taskdb.core.numbers import counted, some_of
from taskdb.formats.registry import ReadOptions, SetReading, read_set
from taskdb.reference.countries import country_code

_MOST_TOLD = 8


def read_waypoints(stream: BinaryIO, *, options: ReadOptions | None = None) -> SetReading:
    """Return what `read_set` does, with countries by their two letters; what is no country that is known stays.

    Both are told in the notes.
    """
    reading = read_set(stream, options=options)
    column = reading.records.values.get("country")
    if column is None:
        return reading
    codes = {text: country_code(text) for text in set(column) if text is not None}
    if all(text == code for text, code in codes.items()):
        return reading
    counts = Counter(column)
    reading.records.values["country"] = column.mapped(lambda text: codes.get(text) or text)
    read = {text: counts[text] for text, code in codes.items() if code is not None and code != text}
    unread = {text: counts[text] for text, code in codes.items() if code is None}
    notes = [*reading.decided.notes]
    if read:
        pairs = some_of([f"{text} as {codes[text]}" for text in _ordered(read)], _MOST_TOLD)
        notes.append(f"countries by their two letters in {counted(sum(read.values()), 'row')}: {pairs}")
    if unread:
        words = some_of([f"{text!r}" for text in _ordered(unread)], _MOST_TOLD)
        notes.append(
            f"no countries that are known, and kept as they are, in {counted(sum(unread.values()), 'row')}: {words}"
        )
    return replace(reading, decided=replace(reading.decided, notes=tuple(notes)))


def _ordered(counts: dict[str, int]) -> list[str]:
    """Return the commonest first."""
    return sorted(counts, key=lambda text: (-counts[text], text))
