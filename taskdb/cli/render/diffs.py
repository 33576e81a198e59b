"""Differences of sets for people: headline counts first, then each kind of change, changed fields only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import aligned
from taskdb.core.history import words
from taskdb.core.numbers import counted

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.history.facts import ChangeFacts
    from taskdb.core.history.locate import Located
    from taskdb.core.kept import TaskUse
    from taskdb.core.model import Waypoint
    from taskdb.services.sets.history import Differed, Restored
    from taskdb.services.sets.patches import Applied
    from taskdb.services.waypoints.editing import Edited


def show_differed(printer: Printer, differed: Differed, *, stat: bool) -> None:
    """Show a difference."""
    printer.heading(f"{differed.old} → {differed.new}: {words.headline(differed.counts)}")
    left_out = words.left_out_words(differed.left_out, differed.tolerance_m)
    if left_out is not None:
        printer.line(left_out, style="dim")
    if differed.matched:
        printer.line(f"two sets: {counted(len(differed.matched), 'waypoint')} matched otherwise than by identity")
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
        _section(printer, title, [(w.code, w.name, numbers.position(w.position)) for w in waypoints])


def _section(printer: Printer, title: str, rows: Sequence[tuple[str, ...]]) -> None:
    """Show rows under a title with all columns but the last aligned; nothing for no rows."""
    if not rows:
        return
    printer.line()
    printer.heading(f"{title} ({len(rows)})")
    for line in aligned(rows):
        printer.line(f"  {line}")


def show_tasks(printer: Printer, tasks: Sequence[TaskUse]) -> None:
    """Show the saved tasks that use changed or retired waypoints."""
    from taskdb.services.references import task_title

    if not tasks:
        printer.line()
        printer.line("no saved task uses a changed point")
        return
    _section(printer, "saved tasks that use them", [(task_title(use.head), " ".join(use.codes)) for use in tasks])


def show_applied(printer: Printer, done: Applied) -> None:
    """Show what of a patch came into a set, and how conflicts were decided."""
    difference = done.difference
    counts = f"{len(difference.added)} added, {len(difference.changed)} changed, {len(difference.retired)} retired"
    if difference.is_empty:
        counts = "no new revision; everything stands already"
    printer.heading(f"{done.set_name}@{done.revision}: {counted(done.count, 'waypoint')}; {counts}")
    if done.already:
        printer.line(f"{counted(done.already, 'change')} of the patch stood here already")
    if done.decided:
        sides = [take.value for _, take in done.decided]
        taken = ", ".join(f"{sides.count(side)} for {side}" for side in ("ours", "theirs") if side in sides)
        printer.line(f"{counted(len(sides), 'conflict')} decided: {taken}")
    show_located(printer, done.located)
    show_changes(printer, done.facts, difference.added, difference.retired)
    if done.tasks:
        show_tasks(printer, done.tasks)


def show_restored(printer: Printer, done: Restored) -> None:
    """Show what going back to an earlier revision changed."""
    same = f"{done.set_name}@{done.equal_to}"
    if done.difference.is_empty:
        printer.line(f"{done.set_name}@{done.revision} equals {same} already; no new revision")
        return
    printer.heading(f"{done.set_name}@{done.revision} equals {same}: {counted(done.count, 'waypoint')}")
    show_changes(printer, done.facts, done.difference.added, done.difference.retired)
    if done.tasks:
        show_tasks(printer, done.tasks)


def show_located(printer: Printer, located: Sequence[Located]) -> None:
    """Show matches that are worth a look."""
    for one in located:
        off = numbers.short_distance(one.distance_m, printer.units)
        printer.line(
            f"  {one.base.code} {one.base.name} is {one.ours.code} {one.ours.name} here, by {one.round}, {off}"
        )


def show_edited(printer: Printer, done: Edited) -> None:
    """Say what was done to a waypoint, what is worth knowing, and which tasks use it."""
    from taskdb.services.waypoints.plain import understood_position

    waypoint = done.waypoint
    printer.heading(f"{done.set_name}@{done.revision}: {waypoint.code} {waypoint.name} {done.done}")
    understood = understood_position(done)
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
