"""What changed of a waypoint since the edition before, in the words of a language."""

from __future__ import annotations

from collections.abc import Mapping

from taskdb.core.history.facts import ChangeFacts
from taskdb.core.history.words import length_words, value_words
from taskdb.core.model import Position
from taskdb.core.notation import Notation, format_position
from taskdb.core.quantities import Units, format_bearing
from taskdb.report.lettering import shown

_LIMIT = 400


def minutes_text(position: Position) -> str:
    """Return a position as instruments show it: degrees and minutes to a thousandth."""
    return format_position(position, Notation.MINUTES, 3)


def change_phrases(fact: ChangeFacts, texts: Mapping[str, str], units: Units) -> list[str]:
    """Return everything that a change did, a phrase each."""
    old, new = fact.old, fact.new
    phrases = []
    if fact.is_renumbered:
        phrases.append(f"{texts['field_code']}: {shown(old.code)} → {shown(new.code)}")
    if fact.is_renamed:
        phrases.append(f"{texts['field_name']}: {shown(old.name, 80)} → {shown(new.name, 80)}")
    if fact.moved_m is not None:
        phrases.append(f"{_moved(fact, texts, units)} ({texts['before'].format(value=minutes_text(old.position))})")
    for field in fact.others:
        before, after = (shown(value_words(field, getattr(side, field)), _LIMIT) for side in (old, new))
        phrases.append(f"{texts[f'field_{field}']}: {before} → {after}")
    return phrases


def _moved(fact: ChangeFacts, texts: Mapping[str, str], units: Units) -> str:
    assert fact.moved_m is not None  # asked only of what moved
    length = length_words(fact.moved_m, units)
    if fact.is_refined:
        return texts["refined"].format(length=length)
    if fact.bearing_deg is None:
        return texts["moved_little"]
    return texts["moved"].format(length=length, bearing=f"{format_bearing(fact.bearing_deg)}°")
