"""`taskdb set diff|notice|patch|apply|restore|label|copy`: the history of sets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE, DISTANCE, FILE
from taskdb.errors import ExitCode

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import SetRevisionInfo
    from taskdb.services.sets.history import Copied, Restored
    from taskdb.services.sets.notices import NoticeWritten
    from taskdb.services.sets.patches import Applied, PatchWritten

_REVISION = "SET[@R]"


@command("set diff")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--tolerance", "tolerance_m", type=DISTANCE, metavar="D", help="Leave out moves and heights within D.")
@click.option("--tasks", is_flag=True, help="List every saved task that uses a changed point.")
@click.option("--stat", is_flag=True, help="Show counts only.")
@click.option("--geojson", metavar="FILE", type=FILE, help="Write the difference as GeoJSON too, for a map.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where something differs.")
def diff(invocation: Invocation, old: str, new: str | None, **given: Any) -> Answer:
    """Show what differs between two revisions of a set, or between two sets.

    With one reference: SET@3 against the newest; SET its newest revision against the one before. Two sets are
    matched by identity first, then by code with name, name, place and code nearby.
    """
    from taskdb.cli.render.diffs import differed_plain, show_differed
    from taskdb.core.history.facts import small_moves
    from taskdb.services.sets.history import diff_sets, write_diff_geojson

    tolerance_m = given["tolerance_m"] or 0.0
    differed = diff_sets(invocation.desk, old, new, tolerance_m=tolerance_m, with_tasks=given["tasks"])
    result = differed_plain(differed)
    if given["geojson"] is not None:
        written = write_diff_geojson(differed, given["geojson"], overwrite=given["yes"])
        result["geojson"] = {"path": written.path, "bytes": written.bytes}
    small, moves = small_moves(differed.facts)
    if small * 2 > moves and not tolerance_m:
        of = "The one move is" if moves == 1 else f"{small} of {moves} moves are"
        invocation.warn(f"{of} below 1 m, as another rounding makes them; --tolerance 1m leaves them out.")
    differs = given["exit_code"] and not differed.difference.is_empty
    return Answer(
        result,
        people=lambda printer: show_differed(printer, differed, stat=given["stat"]),
        exit_code=ExitCode.ACT if differs else ExitCode.DONE,
    )


@command("set notice")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--to", "path", required=True, type=FILE, metavar="FILE.html", help="The page to write.")
@click.option("--tolerance", "tolerance_m", type=DISTANCE, metavar="D", help="Leave out moves and heights within D.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def notice(
    invocation: Invocation, old: str, new: str | None, path: str, tolerance_m: float | None, yes: bool
) -> Answer:
    """Write the change notice for members: what to update, and why, on one page.

    The reasons are the notes of the revisions in between (--note of the commands that made them).
    """
    from taskdb.services.sets.notices import write_notice

    done = write_notice(
        invocation.desk, old, new, path, tolerance_m=tolerance_m or 0.0, units=invocation.units, overwrite=yes
    )
    return Answer(_notice_plain(done), people=lambda printer: _show_notice(printer, done))


def _notice_plain(done: NoticeWritten) -> dict[str, Any]:
    from taskdb.core.history.writers import counts_plain

    return {
        "from": done.old,
        "to": done.new,
        "path": done.path,
        "bytes": done.bytes,
        "counts": counts_plain(done.counts),
        "tasks": done.tasks,
    }


def _show_notice(printer: Printer, done: NoticeWritten) -> None:
    from taskdb.core.history.words import headline

    printer.line(f"{done.path}: {done.old} → {done.new}, {headline(done.counts)}")


@command("set patch")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--to", "path", required=True, type=FILE, metavar="FILE", help="The patch to write.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def patch(invocation: Invocation, old: str, new: str | None, path: str, yes: bool) -> Answer:
    """Write what changed between two revisions as a patch that another store can take.

    The file is readable JSON; it names waypoints by code and by their values in the first revision. A set made by
    `set copy` takes corrections of the set that it was made from in the same way.
    """
    from taskdb.services.sets.patches import write_patch

    done = write_patch(invocation.desk, old, new, path, overwrite=yes)
    return Answer(_patch_plain(done), people=lambda printer: _show_patch(printer, done))


def _patch_plain(done: PatchWritten) -> dict[str, Any]:
    return {
        "from": done.base,
        "to": done.goal,
        "path": done.path,
        "bytes": done.bytes,
        "added": done.added,
        "changed": done.changed,
        "retired": done.retired,
    }


def _show_patch(printer: Printer, done: PatchWritten) -> None:
    counts = f"{done.added} added, {done.changed} changed, {done.retired} retired"
    printer.line(f"{done.path}: {done.base} → {done.goal}, {counts}")
    printer.line("another store takes it with: taskdb set apply FILE --into SET", style="dim")


@command("set apply", writes=True)
@click.argument("file", type=FILE)
@click.option("--into", required=True, metavar="SET", shell_complete=names_of("set"), help="The set to change.")
@click.option("--take", metavar="ours|theirs|FILE", help="Whose value stands in a conflict: the set's or the patch's.")
@click.option("--conflicts", "conflicts_path", type=FILE, metavar="FILE", help="Write conflicts there, to decide each.")
def apply(invocation: Invocation, file: str, into: str, take: str | None, conflicts_path: str | None) -> Answer:
    """Merge a patch into a set.

    Changes of different fields merge. Where the set and the patch changed one field differently, or one retired what
    the other changed, every conflict is listed as expected, found and wanted, nothing is applied (exit 5), and
    --take decides: all for one side, or one by one in the file that --conflicts writes.
    """
    from taskdb.core.history.merge import Take
    from taskdb.services.sets.patches import ApplyRequest, apply_patch

    side = Take(take) if take in (Take.OURS.value, Take.THEIRS.value) else None
    request = ApplyRequest(file, into, side, take if side is None else None, conflicts_path)
    done = invocation.confirmed(lambda write: apply_patch(invocation.desk, request, write))
    return Answer(_applied_plain(done), people=lambda printer: _show_applied(printer, done))


def _applied_plain(done: Applied) -> dict[str, Any]:
    from taskdb.cli.render.diffs import located_plain, tasks_plain
    from taskdb.core.history.decisions import conflict_plain
    from taskdb.core.history.writers import changed_plain

    return {
        "set": done.set_name,
        "revision": done.revision,
        "count": done.count,
        "from": done.patch.base,
        "to": done.patch.goal,
        "added": len(done.difference.added),
        "changed": len(done.difference.changed),
        "retired": len(done.difference.retired),
        "already": done.already,
        "changes": [changed_plain(fact) for fact in done.facts],
        "decided": [{**conflict_plain(conflict), "take": take.value} for conflict, take in done.decided],
        "matched": located_plain(done.located),
        "tasks": tasks_plain(done.tasks),
    }


def _show_applied(printer: Printer, done: Applied) -> None:
    from taskdb.cli.render.diffs import show_changes, show_located, show_tasks
    from taskdb.cli.render.numbers import counted

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


@command("set restore", writes=True)
@click.argument("reference", metavar="SET@R", shell_complete=names_of("set"))
def restore(invocation: Invocation, reference: str) -> Answer:
    """Make a new revision of a set that equals an earlier one."""
    from taskdb.services.sets.history import restore_set

    done = invocation.confirmed(lambda write: restore_set(invocation.desk, reference, write))
    return Answer(_restored_plain(done), people=lambda printer: _show_restored(printer, done))


def _restored_plain(done: Restored) -> dict[str, Any]:
    from taskdb.cli.render.diffs import tasks_plain

    return {
        "set": done.set_name,
        "revision": done.revision,
        "equal_to": done.equal_to,
        "count": done.count,
        "added": len(done.difference.added),
        "changed": len(done.difference.changed),
        "retired": len(done.difference.retired),
        "tasks": tasks_plain(done.tasks),
    }


def _show_restored(printer: Printer, done: Restored) -> None:
    from taskdb.cli.render.diffs import show_changes, show_tasks
    from taskdb.cli.render.numbers import counted

    same = f"{done.set_name}@{done.equal_to}"
    if done.difference.is_empty:
        printer.line(f"{done.set_name}@{done.revision} equals {same} already; no new revision")
        return
    printer.heading(f"{done.set_name}@{done.revision} equals {same}: {counted(done.count, 'waypoint')}")
    show_changes(printer, done.facts, done.difference.added, done.difference.retired)
    if done.tasks:
        show_tasks(printer, done.tasks)


@command("set label", writes=True)
@click.argument("reference", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("label", metavar="LABEL")
@click.option("--valid-from", type=DATE, metavar="DATE", help="The day from which this edition holds.")
def label(invocation: Invocation, reference: str, label: str, valid_from: str | None) -> Answer:
    """Give a revision of a set a label, such as "2027 edition".

    An empty label ("") takes it away. Earlier labels stay in the journal.
    """
    from taskdb.services.sets.history import label_set

    info = invocation.confirmed(lambda write: label_set(invocation.desk, reference, label, valid_from, write))
    result = {
        "set": info.set_name,
        "revision": info.number,
        "label": info.label,
        "valid_from": info.valid_from,
    }
    return Answer(result, people=lambda printer: _show_label(printer, info))


def _show_label(printer: Printer, info: SetRevisionInfo) -> None:
    named = "has no label" if info.label is None else f"is {info.label!r}"
    since = f", valid from {info.valid_from}" if info.valid_from else ""
    printer.line(f"{info.set_name}@{info.number} {named}{since}")


@command("set copy", writes=True)
@click.argument("reference", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new_name", metavar="NEW")
def copy(invocation: Invocation, reference: str, new_name: str) -> Answer:
    """Copy a set into a new one; the waypoints stay the same ones.

    A contest's own set stays linked to the region that it was made from: later corrections of the region go over
    with `set patch` and `set apply`.
    """
    from taskdb.services.sets.history import copy_set

    done = invocation.confirmed(lambda write: copy_set(invocation.desk, reference, new_name, write))
    result = {"set": done.set_name, "revision": done.revision, "count": done.count, "copied_from": str(done.source)}
    return Answer(result, people=lambda printer: _show_copied(printer, done))


def _show_copied(printer: Printer, done: Copied) -> None:
    from taskdb.cli.render.numbers import counted

    printer.heading(f"{done.set_name}@{done.revision}: {counted(done.count, 'waypoint')} of {done.source}")
