"""`taskdb set diff|notice|patch|apply|restore|label|copy`: the history of sets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE, DISTANCE, INPUT, OUTPUT

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer

_REVISION = "SET[@R]"


@command("set diff")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--tolerance", "tolerance_m", type=DISTANCE, metavar="D", help="Leave out moves and heights within D.")
@click.option("--tasks", is_flag=True, help="List every saved task that uses a changed point.")
@click.option("--stat", is_flag=True, help="Show counts only.")
@click.option("--geojson", metavar="FILE", type=OUTPUT, help="Write the difference as GeoJSON too, for a map.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where something differs.")
def diff(invocation: Invocation, old: str, new: str | None, **given: Any) -> Answer:
    """Show what differs between two revisions of a set, or between two sets.

    With one reference: SET@3 against the newest; SET its newest revision against the one before. Two sets are
    matched by identity first, then by code with name, name, place and code nearby.
    """
    from taskdb.cli.render.diffs import show_differed
    from taskdb.core.history.facts import small_moves
    from taskdb.services.sets.history import diff_sets, write_diff_geojson
    from taskdb.services.sets.plain import differed_plain

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
        exit_code=acts_if(differs),
    )


@command("set notice")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--to", "path", required=True, type=OUTPUT, metavar="FILE.html", help="The page to write.")
@click.option("--tolerance", "tolerance_m", type=DISTANCE, metavar="D", help="Leave out moves and heights within D.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def notice(
    invocation: Invocation, old: str, new: str | None, path: str, tolerance_m: float | None, yes: bool
) -> Answer:
    """Write the change notice for members: what to update, and why, on one page.

    The reasons are the notes of the revisions in between (--note of the commands that made them).
    """
    from taskdb.core.history.words import headline
    from taskdb.services.sets.notices import write_notice
    from taskdb.services.sets.plain import notice_plain

    done = write_notice(
        invocation.desk, old, new, path, tolerance_m=tolerance_m or 0.0, units=invocation.units, overwrite=yes
    )
    text = f"{done.path}: {done.old} → {done.new}, {headline(done.counts)}"
    return Answer(notice_plain(done), people=lambda printer: printer.line(text))


@command("set patch")
@click.argument("old", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new", metavar=f"[{_REVISION}]", required=False, shell_complete=names_of("set"))
@click.option("--to", "path", required=True, type=OUTPUT, metavar="FILE", help="The patch to write.")
@click.option("--yes", is_flag=True, help="Write over a file that exists.")
def patch(invocation: Invocation, old: str, new: str | None, path: str, yes: bool) -> Answer:
    """Write what changed between two revisions as a patch that another store can take.

    The file is readable JSON; it names waypoints by code and by their values in the first revision. A set made by
    `set copy` takes corrections of the set that it was made from in the same way.
    """
    from taskdb.services.sets.patches import write_patch
    from taskdb.services.sets.plain import patch_written_plain

    done = write_patch(invocation.desk, old, new, path, overwrite=yes)

    def people(printer: Printer) -> None:
        counts = f"{done.added} added, {done.changed} changed, {done.retired} retired"
        printer.line(f"{done.path}: {done.base} → {done.goal}, {counts}")
        printer.line("another store takes it with: taskdb set apply FILE --into SET", style="dim")

    return Answer(patch_written_plain(done), people=people)


@command("set apply", writes=True)
@click.argument("file", type=INPUT)
@click.option("--into", required=True, metavar="SET", shell_complete=names_of("set"), help="The set to change.")
@click.option("--take", metavar="ours|theirs|FILE", help="Whose value stands in a conflict: the set's or the patch's.")
@click.option(
    "--conflicts", "conflicts_path", type=OUTPUT, metavar="FILE", help="Write conflicts there, to decide each."
)
def apply(invocation: Invocation, file: str, into: str, take: str | None, conflicts_path: str | None) -> Answer:
    """Merge a patch into a set.

    Changes of different fields merge. Where the set and the patch changed one field differently, or one retired what
    the other changed, every conflict is listed as expected, found and wanted, nothing is applied (exit 5), and
    --take decides: all for one side, or one by one in the file that --conflicts writes.
    """
    from taskdb.cli.render.diffs import show_applied
    from taskdb.core.history.merge import Take
    from taskdb.services.sets.patches import ApplyRequest, apply_patch
    from taskdb.services.sets.plain import applied_plain

    side = Take(take) if take in (Take.OURS.value, Take.THEIRS.value) else None
    request = ApplyRequest(file, into, side, take if side is None else None, conflicts_path)
    done = invocation.confirmed(lambda write: apply_patch(invocation.desk, request, write))
    return Answer(applied_plain(done), people=lambda printer: show_applied(printer, done))


@command("set restore", writes=True)
@click.argument("reference", metavar="SET@R", shell_complete=names_of("set"))
def restore(invocation: Invocation, reference: str) -> Answer:
    """Make a new revision of a set that equals an earlier one."""
    from taskdb.cli.render.diffs import show_restored
    from taskdb.services.sets.history import restore_set
    from taskdb.services.sets.plain import restored_plain

    done = invocation.confirmed(lambda write: restore_set(invocation.desk, reference, write))
    return Answer(restored_plain(done), people=lambda printer: show_restored(printer, done))


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
    result = {"set": info.set_name, "revision": info.number, "label": info.label, "valid_from": info.valid_from}
    named = "has no label" if info.label is None else f"is {info.label!r}"
    since = f", valid from {info.valid_from}" if info.valid_from else ""
    return Answer(result, people=lambda printer: printer.line(f"{info.set_name}@{info.number} {named}{since}"))


@command("set copy", writes=True)
@click.argument("reference", metavar=_REVISION, shell_complete=names_of("set"))
@click.argument("new_name", metavar="NEW")
def copy(invocation: Invocation, reference: str, new_name: str) -> Answer:
    """Copy a set into a new one; the waypoints stay the same ones.

    A contest's own set stays linked to the region that it was made from: later corrections of the region go over
    with `set patch` and `set apply`.
    """
    from taskdb.core.numbers import counted
    from taskdb.services.sets.history import copy_set

    done = invocation.confirmed(lambda write: copy_set(invocation.desk, reference, new_name, write))
    result = {"set": done.set_name, "revision": done.revision, "count": done.count, "copied_from": str(done.source)}
    text = f"{done.set_name}@{done.revision}: {counted(done.count, 'waypoint')} of {done.source}"
    return Answer(result, people=lambda printer: printer.heading(text))
