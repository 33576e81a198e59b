"""The change notice for members: one self-contained HTML page that says what to update and why.

Takes differences that are computed already; the template escapes every text. No script, no network, no clock: the
same difference gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.history.facts import ChangeFacts, Counts
from taskdb.core.history.words import FIELD_WORDS, headline, moved_words, value_words
from taskdb.core.model import Position, Waypoint
from taskdb.core.notation import Notation, format_position
from taskdb.core.quantities import FOOT_M, Units
from taskdb.report.lettering import FONTS, shown
from taskdb.report.page_template import page_template

CAUTIONS = (
    "Not for primary navigation.",
    "Check current airspace, NOTAM, weather and local rules before flight.",
    "The pilot in command and the contest's own officials decide.",
    "Load the new points into the instrument, and look at one that moved before you trust the rest.",
)
_TEXT_LIMIT = 2000


@dataclass(frozen=True, slots=True)
class NoticeRevision:
    """One end of the notice: its number, label, when it was made (ISO date) and why."""

    number: int
    date: str
    label: str | None = None
    note: str | None = None
    valid_from: str | None = None
    """The day (ISO) from which an edition counts."""


@dataclass(frozen=True, slots=True)
class Notice:
    """All that the page says. `reasons` maps identities to the notes of the revisions that touched them, in order.

    `tasks` are saved tasks that use a changed or retired point, each with the codes.
    """

    set_name: str
    old: NoticeRevision
    new: NoticeRevision
    counts: Counts
    changed: Sequence[ChangeFacts] = ()
    added: Sequence[Waypoint] = ()
    retired: Sequence[Waypoint] = ()
    reasons: Mapping[str, Sequence[str]] = field(default_factory=lambda: MappingProxyType({}))
    tasks: Sequence[tuple[str, Sequence[str]]] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a table: which point, what to do (each by its label, a position that stays on one line, words), why."""

    code: str
    name: str
    what: tuple[tuple[str, str, str], ...]
    why: str


def render_notice(notice: Notice, *, units: Units = Units.KM) -> str:
    """Return the notice as HTML; where nothing differs the page says so."""
    name = shown(notice.set_name, 120)
    moved = [fact for fact in notice.changed if fact.moved_m is not None and not fact.is_refined]
    others = [fact for fact in notice.changed if fact.moved_m is None or fact.is_refined]
    return page_template("notice.html").render(
        title=f"Changes of {name}: {_called(notice.old)} to {_called(notice.new)}",
        fonts=FONTS,
        name=name,
        old=_called(notice.old),
        new=_called(notice.new),
        old_date=notice.old.date,
        new_date=notice.new.date,
        valid_from=shown(notice.new.valid_from, 20) if notice.new.valid_from else None,
        headline=headline(notice.counts),
        moved=[_changed_row(notice, fact, units) for fact in moved],
        others=[_changed_row(notice, fact, units) for fact in others],
        added=[_added_row(notice, waypoint) for waypoint in notice.added],
        retired=[Row(shown(w.code), shown(w.name, 80), (), _why(notice, w)) for w in notice.retired],
        tasks=[(shown(task, 120), [shown(code) for code in codes]) for task, codes in notice.tasks],
        cautions=CAUTIONS,
        foot=f"{name}@{notice.old.number} → {name}@{notice.new.number}",
    )


def _called(revision: NoticeRevision) -> str:
    return shown(revision.label, 80) if revision.label else f"revision {revision.number}"


def _why(notice: Notice, waypoint: Waypoint) -> str:
    notes = notice.reasons.get(waypoint.identity or "", ())
    return "; ".join(shown(note, _TEXT_LIMIT) for note in notes)


def _changed_row(notice: Notice, fact: ChangeFacts, units: Units) -> Row:
    what: list[tuple[str, str, str]] = []
    if fact.moved_m is not None:
        what.append(("position", position_text(fact.new.position), f"({moved_words(fact, units)})"))
        what.append(("before", position_text(fact.old.position), ""))
    if fact.is_renumbered:
        what.append(("code", "", f"{shown(fact.old.code)} → {shown(fact.new.code)}"))
    if fact.is_renamed:
        what.append(("name", "", f"{shown(fact.old.name, 80)} → {shown(fact.new.name, 80)}"))
    for name in fact.others:
        old, new = (
            shown(value_words(name, getattr(side, name)), _TEXT_LIMIT) for side in (fact.old, fact.new)
        )  # fmt: skip
        what.append((FIELD_WORDS[name], "", f"{old} → {new}"))
    return Row(shown(fact.new.code), shown(fact.new.name, 80), tuple(what), _why(notice, fact.new))


def _added_row(notice: Notice, waypoint: Waypoint) -> Row:
    what = [("position", position_text(waypoint.position), "")]
    if waypoint.elevation_m is not None:
        feet = f"{waypoint.elevation_m / FOOT_M:.0f} ft"
        what.append(("elevation", "", f"{waypoint.elevation_m:.0f} m ({feet})"))
    for name, text in (
        ("landable", waypoint.landable.value if waypoint.landable is not None else ""),
        ("radio", format_radio(waypoint.radio)),
        ("runways", format_runways(waypoint.runways)),
        ("", waypoint.description or ""),
    ):
        if text:
            what.append((name, "", shown(text, _TEXT_LIMIT)))
    return Row(shown(waypoint.code), shown(waypoint.name, 80), tuple(what), _why(notice, waypoint))


def position_text(position: Position) -> str:
    """Return a position as instruments show it: degrees and minutes to a thousandth."""
    return format_position(position, Notation.MINUTES, 3)
