"""`taskdb check …`: what is wrong with a set, and why we think so."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if, limited, records
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE, DISTANCE, INPUT, OUTPUT, fail_on_option, fields_of, terrain_option, together
from taskdb.core.pasted import command_line
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.checks.check import CheckRequest
    from taskdb.services.checks.fixing import Mended, Pick
    from taskdb.services.desk import Write

run_options = together(
    click.option("--within", "within_m", type=DISTANCE, metavar="D", help="Nearer than this is one place (250m)."),
    click.option(
        "--against", multiple=True, metavar="SET[@R]|FILE|airports|places", help="Hold it against this; repeatable."
    ),
    click.option("--since", metavar="SET@R", shell_complete=names_of("set"), help="Only what changed since then."),
    click.option(
        "--short-names", type=click.IntRange(min=1), metavar="N", help="Names that collide in N letters, folded."
    ),
    terrain_option,
    click.option(
        "--flights",
        multiple=True,
        type=INPUT,
        metavar="DIR",
        help="Flight logs: aerodromes against where gliders stood.",
    ),
    click.option("--inspected-since", type=DATE, metavar="DATE", help="Landable places not inspected since."),
)
"""Adds what decides what a run finds: the same for looking, accepting and mending."""


def request_of(reference: str, given: dict[str, Any]) -> CheckRequest:
    """Return the run that was typed."""
    from taskdb.services.checks.check import CheckRequest

    typed = fields_of(CheckRequest, given)
    return CheckRequest(reference, **{name: value for name, value in typed.items() if value is not None})


@command("check run")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@run_options
@fail_on_option
@click.option("--all", "show_accepted", is_flag=True, help="Show accepted findings too.")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N findings.")
def run(invocation: Invocation, reference: str, **given: Any) -> Answer:
    """Check a set: every suspected fault with its evidence and its mend.

    Nothing is changed. `taskdb check explain RULE` tells what a rule looks for. Without a reference a slip that stays
    inside the region cannot be seen: give --against another list of the same places.
    """
    from taskdb.cli.render.findings import LEADING, Lead, counts_of, show_findings
    from taskdb.core.plain import finding_plain
    from taskdb.services.checks.check import check_set

    request = request_of(reference, given)
    with invocation.working(f"checking {reference}") as progress:
        checked = check_set(invocation.desk, request, progress)
    listed = [f for f in checked.findings if given["show_accepted"] or f.accepted is None]
    shown = listed if given["limit"] is None else listed[: given["limit"]]
    result = {
        "set": checked.at.head.name,
        "revision": checked.at.revision,
        "checked": checked.checked,
        **limited("findings", [finding_plain(finding) for finding in shown], len(listed)),
        "accepted": sum(f.accepted is not None for f in checked.findings),
        "against": list(given["against"]),
        "ground": checked.ground,
        "flights": checked.flights,
        "counts": counts_of(listed),
        "most_certain": [finding.id for finding in checked.mendable[:LEADING]],
        "sure": [finding.id for finding in checked.sure],
    }
    lead = Lead(checked, request)
    fail_on = given["fail_on"]
    is_bad = fail_on is not None and checked.worst_at_or_above(fail_on)
    return Answer(
        result,
        people=lambda printer: show_findings(printer, lead, listed, len(shown)),
        exit_code=acts_if(is_bad),
    )


@command("check rules")
def rules(invocation: Invocation) -> Answer:
    """List the rules with what each looks for.

    Those of a set run in `check run`, those of a task in `task review`.
    """
    from taskdb.services.checks.check import list_review_rules, list_rules

    rules: list[tuple[str, str, str, list[str]]] = [
        *((rule.name, "set", rule.summary, sorted(rule.needs)) for rule in list_rules()),
        *((rule.name, "task", rule.summary, []) for rule in list_review_rules()),
    ]
    listed = records(("rule", "of", "summary", "needs"), rules)
    rows = [(of, name, summary) for name, of, summary, _ in rules]
    return Answer({"rules": listed}, people=lambda printer: printer.table(["of a", "rule", "looks for"], rows))


@command("check explain")
@click.argument("rule")
def explain(invocation: Invocation, rule: str) -> Answer:
    """Explain a rule: what it finds, why that matters, how to mend it."""
    from taskdb.services.checks.check import explain_rule

    page = explain_rule(rule)
    return Answer({"rule": rule, "page": page}, people=lambda printer: printer.block(page))


@command("check list")
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
def list_(invocation: Invocation, reference: str) -> Answer:
    """List the findings that were accepted, by whom and why."""
    from taskdb.services.checks.accepting import accepted_list

    at, accepted = accepted_list(invocation.desk, reference)
    rows = [(one.id, one.rule, one.acceptance.by, one.acceptance.why) for one in accepted]

    def people(printer: Printer) -> None:
        if not accepted:
            printer.line(f"No finding of {at.head.name} is accepted.")
            return
        printer.table(["finding", "rule", "accepted by", "why"], rows)

    return Answer({"set": at.head.name, "accepted": records(("id", "rule", "by", "why"), rows)}, people=people)


@command("check accept", writes=True)
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
@click.argument("findings", nargs=-1, metavar="[FINDING…]")
@click.option("--rule", "rules", multiple=True, metavar="RULE", help="All findings of a rule; repeatable.")
@click.option(
    "--source", "sources", multiple=True, metavar="S", help="All about points of a source, or against a reference S."
)
@click.option("--why", default="", metavar="TEXT", help="Why it is right as it is.")
@click.option("--take-back", is_flag=True, help="Let it speak again.")
@run_options
def accept(invocation: Invocation, reference: str, **given: Any) -> Answer:
    """Keep findings quiet until one of their values changes.

    Name them, or take all of a rule, of a source, or of a rule and a source together; look first with --preview. A
    finding against a reference is named together with it: give the same --against as to `check run`. A finding of
    `task review` is accepted in its task's set, by its whole id.
    """
    from taskdb.cli.render.findings import show_accepted
    from taskdb.services.checks.accepting import Which, accept_findings
    from taskdb.services.tasks.reviewed_on import finding_of_tasks

    request = request_of(reference, given)
    why, take_back = given["why"], given["take_back"]
    which = Which(given["findings"], given["rules"], given["sources"])
    with invocation.working(f"checking {reference}"):
        done = invocation.confirmed(
            lambda write: accept_findings(
                invocation.desk, request, which, why, write, elsewhere=finding_of_tasks, take_back=take_back
            )
        )
    word = "taken back" if take_back else "accepted"
    result = {
        "set": reference,
        "findings": [f.id for f in done],
        "accepted": not take_back,
        "why": why or None,
        "total": len(done),
        "rules": dict(Counter(f.rule for f in done)),
    }
    return Answer(result, people=lambda printer: show_accepted(printer, done, word, in_bulk=which.is_bulk))


@command("check fix", writes=True)
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
@click.argument("findings", nargs=-1, metavar="FINDING[=N]…")
@click.option("--plan", type=OUTPUT, metavar="FILE", help="Write the findings and mends to a file to review.")
@click.option("--apply", "apply", type=INPUT, metavar="FILE", help="Take the mends that a reviewed file takes.")
@click.option("--sure", is_flag=True, help="Take all mends that are almost surely right, once confirmed.")
@run_options
def fix(
    invocation: Invocation,
    reference: str,
    findings: tuple[str, ...],
    plan: str | None,
    apply: str | None,
    sure: bool,
    **given: Any,
) -> Answer:
    """Take the mends of findings, as one revision.

    FINDING takes its first mend, FINDING=1 the first alternative. --sure takes the errors that one slip explains and
    that can belong at one place only; look at them first with --preview. Tasks that use a mended point are named as
    stale.
    """
    from taskdb.services.checks.fixing import fix_findings, plan_fixes, read_plan

    if sum(bool(way) for way in (findings, plan, apply, sure)) != 1:
        raise UsageError(
            "how-to-fix", "Name findings, or give --sure, --plan or --apply.", hint="taskdb check fix SET FINDING"
        )
    request = request_of(reference, given)
    if plan is not None:
        count = plan_fixes(invocation.desk, request, plan, overwrite=invocation.settings.yes)
        applies = command_line("check fix", reference, options=["--apply", plan])
        said = f"{plan}: {count} findings with a mend; set take, then: {applies}"
        return Answer({"plan": plan, "findings": count}, people=lambda printer: printer.line(said))
    picks = None if sure else read_plan(apply) if apply is not None else tuple(pick_of(word) for word in findings)

    def mend(write: Write) -> Mended:
        with invocation.working(f"checking {reference}") as progress:
            return fix_findings(invocation.desk, request, picks, write, progress)

    return mended_answer(invocation.confirmed(mend))


def pick_of(word: str) -> Pick:
    """Return the mend that `FINDING` or `FINDING=N` takes."""
    from taskdb.services.checks.fixing import Pick

    finding, equals, number = word.partition("=")
    if equals and not (number.isascii() and number.isdigit()):
        raise UsageError("bad-choice", f"{word!r} names no mend.", hint="Write FINDING or FINDING=1.")
    return Pick(finding, int(number) if equals else 0)


@command("check merge", writes=True)
@click.argument("reference", metavar="SET", shell_complete=names_of("set"))
@click.argument("keep", metavar="KEEP", shell_complete=names_of("waypoint"))
@click.argument("drop", metavar="DROP", shell_complete=names_of("waypoint"))
def merge(invocation: Invocation, reference: str, keep: str, drop: str) -> Answer:
    """Join two duplicates: KEEP stays and takes what it lacks from DROP, which is retired.

    Tasks that use DROP become stale; carrying them over follows it to KEEP.
    """
    from taskdb.services.checks.fixing import merge_duplicates

    return mended_answer(
        invocation.confirmed(lambda write: merge_duplicates(invocation.desk, reference, keep, drop, write))
    )


def mended_answer(done: Mended) -> Answer:
    """Return the answer that tells what was mended."""
    from taskdb.cli.render.findings import show_mended
    from taskdb.core.history.changes import changed_fields

    result = {
        "set": done.set_name,
        "revision": done.revision,
        "changed": [{"code": new.code, "fields": list(changed_fields(old, new))} for old, new in done.changes],
        "retired": [waypoint.code for waypoint in done.retired],
        "stale_tasks": list(done.stale_tasks),
        "not_taken": [
            {"id": one.finding.id, "rule": one.finding.rule, "codes": list(one.finding.codes), "reason": one.reason}
            for one in done.not_taken
        ],
    }
    return Answer(result, people=lambda printer: show_mended(printer, done))
