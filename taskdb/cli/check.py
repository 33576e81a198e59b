"""`taskdb check …`: what is wrong with a set, and why we think so."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.answer import Answer
from taskdb.cli.command import Invocation, command
from taskdb.cli.completion import names_of
from taskdb.cli.options import DISTANCE
from taskdb.core.kinds import Severity

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.checks import Checked


@command("check run")
@click.argument("reference", metavar="SET[@R]", shell_complete=names_of("set"))
@click.option("--within", "within_m", type=DISTANCE, metavar="D", help="Nearer than this is one place (250m).")
@click.option(
    "--fail-on",
    type=click.Choice([*(s.value for s in Severity), "never"]),
    default="error",
    show_default=True,
    help="Exit 1 for a finding at least this severe.",
)
@click.option("--all", "show_accepted", is_flag=True, help="Show accepted findings too.")
def run(invocation: Invocation, reference: str, **given: Any) -> Answer:
    """Check a set: every suspected fault with its evidence and its mend.

    Nothing is changed. `taskdb check explain RULE` tells what a rule looks for.
    """
    from taskdb.core.checks.engine import WITHIN_M
    from taskdb.core.plain import finding_plain
    from taskdb.errors import ExitCode
    from taskdb.services.checks import CheckRequest, check_set

    within_m = given["within_m"] if given["within_m"] is not None else WITHIN_M
    checked = check_set(invocation.desk, CheckRequest(reference, within_m=within_m))
    listed = [f for f in checked.findings if given["show_accepted"] or f.accepted is None]
    result = {
        "set": checked.at.head.name,
        "revision": checked.at.revision,
        "checked": checked.checked,
        "findings": [finding_plain(finding) for finding in listed],
        "accepted": sum(f.accepted is not None for f in checked.findings),
    }
    fail_on = given["fail_on"]
    is_bad = fail_on != "never" and checked.worst_at_or_above(Severity(fail_on))
    return Answer(
        result,
        people=lambda printer: show_findings(printer, checked, show_accepted=given["show_accepted"]),
        exit_code=ExitCode.ACT if is_bad else ExitCode.DONE,
    )


def show_findings(printer: Printer, checked: Checked, *, show_accepted: bool) -> None:
    """Show findings by severity, a card each, after a headline of counts."""
    from taskdb.cli.render.findings import finding_card
    from taskdb.cli.render.numbers import counted

    listed = [f for f in checked.findings if show_accepted or f.accepted is None]
    counts = {s: sum(f.severity is s for f in listed) for s in Severity}
    headline = ", ".join(counted(number, severity.value) for severity, number in counts.items() if number)
    printer.heading(f"{checked.at}: {counted(checked.checked, 'waypoint')} checked, {headline or 'nothing found'}")
    for finding in listed:
        printer.line()
        finding_card(printer, finding, checked.waypoints)
    hidden = len(checked.findings) - len(listed)
    if hidden:
        printer.line()
        printer.line(f"{counted(hidden, 'accepted finding')} not shown (--all shows them)", style="dim")


@command("check rules")
def rules(invocation: Invocation) -> Answer:
    """List the rules with what each looks for.

    Those of a set run in `check run`, those of a task in `task review`.
    """
    from taskdb.services.checks import list_review_rules, list_rules

    of_sets = [("set", rule.name, rule.summary, sorted(rule.needs)) for rule in list_rules()]
    of_tasks: list[tuple[str, str, str, list[str]]] = [
        ("task", rule.name, rule.summary, []) for rule in list_review_rules()
    ]
    listed = [*of_sets, *of_tasks]
    result = {
        "rules": [{"rule": name, "of": of, "summary": summary, "needs": needs} for of, name, summary, needs in listed]
    }
    return Answer(
        result,
        people=lambda printer: printer.table(
            ["of a", "rule", "looks for"], [(of, name, summary) for of, name, summary, _ in listed]
        ),
    )


@command("check explain")
@click.argument("rule")
def explain(invocation: Invocation, rule: str) -> Answer:
    """Explain a rule: what it finds, why that matters, how to mend it."""
    from taskdb.services.checks import explain_rule

    page = explain_rule(rule)
    return Answer({"rule": rule, "page": page}, people=lambda printer: printer.block(page))
