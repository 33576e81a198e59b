"""Differences of sets for people and as JSON: headline counts first, then each kind of change, changed fields only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from taskdb.cli.render import numbers
from taskdb.core.history import words
from taskdb.core.history.writers import changed_plain, counts_plain, diff_plain
from taskdb.core.plain import metres

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.history.facts import ChangeFacts
    from taskdb.core.history.locate import Located
    from taskdb.core.kept import TaskUse
    from taskdb.core.model import Waypoint
    from taskdb.services.sets.history import Differed
    from taskdb.services.waypoints.editing import Edited


def differed_plain(differed: Differed) -> dict[str, Any]:
    """Return a difference as the JSON result of `set diff`; `tasks` stands only where it was asked for."""
    old, new = differed.old, differed.new
    left_out = differed.left_out
    result = diff_plain(
        differed.difference, differed.facts, (old.head.name, old.revision), (new.head.name, new.revision)
    )
    result["counts"] = counts_plain(differed.counts)
    result["tolerance_m"] = metres(differed.tolerance_m)
    result["left_out"] = {
        "moves": left_out.moves,
        "elevations": left_out.elevations,
        "waypoints": left_out.waypoints,
    }
    if differed.tasks is not None:
        result["tasks"] = tasks_plain(differed.tasks)
    return result


def tasks_plain(tasks: Iterable[TaskUse]) -> list[dict[str, Any]]:
    """Return saved tasks with their points that are concerned."""
    return [{"task": u.head.name, "contest": u.head.contest_name, "points": list(u.codes)} for u in tasks]


def show_differed(printer: Printer, differed: Differed, *, stat: bool) -> None:
    """Show a difference."""
    printer.heading(f"{differed.old} → {differed.new}: {words.headline(differed.counts)}")
    left_out = words.left_out_words(differed.left_out, differed.tolerance_m)
    if left_out is not None:
        printer.line(left_out, style="dim")
    if differed.matched:
        printer.line(f"two sets: {words.counted(len(differed.matched), 'waypoint')} matched otherwise than by identity")
    if stat:
        _stat(printer, differed.facts)
    else:
        show_changes(printer, differed.facts, differed.difference.added, differed.difference.retired)
    if differed.tasks is not None:
        show_tasks(printer, differed.tasks)


def _stat(printer: Printer, facts: Sequence[ChangeFacts]) -> None:
    counts: dict[str, int] = {}
    for fact in facts:
        names = [*fact.others]
        names += [name for name, there in (("code", fact.is_renumbered), ("name", fact.is_renamed)) if there]
        names += ["position"] if fact.moved_m is not None else []
        for name in names:
            counts[words.FIELD_WORDS[name]] = counts.get(words.FIELD_WORDS[name], 0) + 1
    printer.pairs((label, counts[label]) for label in words.FIELD_WORDS.values() if label in counts)


def show_changes(
    printer: Printer, facts: Sequence[ChangeFacts], added: Sequence[Waypoint], retired: Sequence[Waypoint]
) -> None:
    """Show renumbered, renamed, moved, refined and otherwise changed waypoints, then the added and retired ones."""
    units = printer.units
    renumbered = [(f"{f.old.code} → {f.new.code}", f.new.name) for f in facts if f.is_renumbered]
    _section(printer, "renumbered", renumbered)
    renamed = [
        (f.new.code, f"{f.old.name or words.NOTHING} → {f.new.name or words.NOTHING}") for f in facts if f.is_renamed
    ]
    _section(printer, "renamed", renamed)
    for title, is_refined in (("moved", False), ("refined", True)):
        there = [f for f in facts if f.is_refined is is_refined]
        told = [(f.new.code, f.new.name, text) for f in there if (text := words.moved_words(f, units)) is not None]
        _section(printer, title, told)
    others = [
        (f.new.code, f.new.name, "; ".join(words.field_words(name, f.old, f.new) for name in f.others))
        for f in facts
        if f.others
    ]
    _section(printer, "changed fields", others)
    for title, waypoints in (("added", added), ("retired", retired)):
        _section(printer, title, [(w.code, w.name, _position(w)) for w in waypoints])


def _position(waypoint: Waypoint) -> str:
    from taskdb.cli.render.numbers import position

    return position(waypoint.position)


def _section(printer: Printer, title: str, rows: Sequence[tuple[str, ...]]) -> None:
    """Show rows under a title with all columns but the last aligned; nothing for no rows."""
    if not rows:
        return
    from taskdb.cli.render.console import display_width

    printer.line()
    printer.heading(f"{title} ({len(rows)})")
    widths = [max(display_width(row[i]) for row in rows) for i in range(len(rows[0]) - 1)]
    for row in rows:
        cells = [cell + " " * (width - display_width(cell)) for cell, width in zip(row, widths, strict=False)]
        printer.line("  " + "  ".join([*cells, row[-1]]).rstrip())


def show_tasks(printer: Printer, tasks: Sequence[TaskUse]) -> None:
    """Show the saved tasks that use changed or retired waypoints."""
    from taskdb.services.waypoints.editing import task_name

    if not tasks:
        printer.line()
        printer.line("no saved task uses a changed point")
        return
    _section(printer, "saved tasks that use them", [(task_name(use), " ".join(use.codes)) for use in tasks])


def located_plain(located: Iterable[Located]) -> list[dict[str, Any]]:
    """Return what was matched otherwise than by identity, or code with name nearby."""
    return [
        {
            "code": one.base.code,
            "here": one.ours.code,
            "round": one.round.value,
            "distance_m": metres(one.distance_m),
        }
        for one in located
    ]


def show_located(printer: Printer, located: Sequence[Located]) -> None:
    """Show matches that are worth a look."""
    from taskdb.cli.render.numbers import short_distance

    for one in located:
        off = short_distance(one.distance_m, printer.units)
        printer.line(
            f"  {one.base.code} {one.base.name} is {one.ours.code} {one.ours.name} here, by {one.round}, {off}"
        )


def edited_plain(done: Edited) -> dict[str, Any]:
    """Return an edited waypoint as JSON."""
    from taskdb.core.plain import waypoint_plain

    return {
        "set": done.set_name,
        "revision": done.revision,
        "done": done.done,
        "waypoint": waypoint_plain(done.waypoint, set_name=done.set_name, revision=done.revision),
        "change": None if done.facts is None else changed_plain(done.facts),
        "tasks": tasks_plain(done.tasks),
        "told": list(done.told),
        "understood": _understood(done),
    }


def _understood(done: Edited) -> dict[str, Any] | None:
    """Return how a typed position was understood; None where none was typed."""
    if done.typed_position is None:
        return None
    typed = done.waypoint.typed
    return {
        "typed": done.typed_position,
        "notation": None if typed is None else typed.notation,
        "position": numbers.position(done.waypoint.position),
    }


def show_edited(printer: Printer, done: Edited) -> None:
    """Say what was done to a waypoint, what is worth knowing, and which tasks use it."""
    waypoint = done.waypoint
    printer.heading(f"{done.set_name}@{done.revision}: {waypoint.code} {waypoint.name} {done.done}")
    understood = _understood(done)
    if understood is not None:
        position = done.waypoint.position
        read_as = f", read as {understood['notation']}" if understood["notation"] else ""
        degrees = f"{position.latitude_deg:.6f},{position.longitude_deg:.6f}"
        printer.line(f"  position {understood['position']} ({degrees}){read_as}")
    if done.facts is not None:
        for phrase in words.change_words(done.facts, printer.units):
            printer.line(f"  {phrase}")
    for sentence in done.told:
        printer.line(f"  note: {sentence}")
    if done.tasks and done.done != "unchanged":
        show_tasks(printer, done.tasks)
