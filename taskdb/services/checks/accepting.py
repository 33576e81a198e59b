"""Living with findings: keeping them quiet with a reason, one by one or all of a rule or a source at once.

What is accepted stays so while the values stand that its rule read; then it is another finding and speaks again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.model import Acceptance, Finding
from taskdb.core.names import fold
from taskdb.core.pasted import command_line
from taskdb.errors import NotFoundError, UsageError
from taskdb.services.checks.check import Checked, CheckRequest, explain_rule, run_on, stands_of
from taskdb.services.checks.fixing import named_finding
from taskdb.services.desk import Desk, Write
from taskdb.services.references import SetAt, resolve_set
from taskdb.store import findings as finding_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class Which:
    """Which findings are meant: named ones, or all of these rules and these sources.

    A finding is of a source where all its points have it as their `source`, or where it is against a reference of that
    name (a set, a file, `airports`).
    """

    ids: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def is_bulk(self) -> bool:
        return bool(self.rules or self.sources)


Elsewhere = Callable[["Connection", SetAt, str], Finding | None]
"""Looks for a finding by its id where the checks of a set do not: in the reviews of its tasks."""


def _nowhere(_c: Connection, _at: SetAt, _finding_id: str) -> None:
    return None


def accept_findings(
    desk: Desk,
    request: CheckRequest,
    which: Which,
    why: str,
    write: Write,
    *,
    elsewhere: Elsewhere = _nowhere,
    take_back: bool = False,
) -> tuple[Finding, ...]:
    """Keep findings quiet until one of their values changes, or take that back. NotFoundError for an unknown one.

    The run is the same as the one that showed them: a finding against a reference needs its reference. Of a rule or a
    source those are taken that speak now, or, to take back, that are quiet.
    """
    if not why.strip() and not take_back:
        raise UsageError("no-reason", "It is not said why.", hint='Give --why "…": the next librarian will ask.')
    if which.is_bulk is bool(which.ids):
        raise UsageError(
            "which-findings",
            "It is not said which findings: name them, or give --rule or --source."
            if not which.ids
            else "Findings are named, or all of --rule and --source are meant: not both.",
            hint="taskdb check accept SET --rule RULE --why TEXT",
        )
    for rule in which.rules:
        explain_rule(rule)
    stands = stands_of(desk, request)

    def work(writing: Writing) -> tuple[Finding, ...]:
        checked = run_on(writing.connection, request, stands, today=desk.now().date().isoformat())
        if which.is_bulk:
            found = [one for one in _meant(checked, which) if (one.accepted is not None) is take_back]
        else:
            found = [_named(writing.connection, checked, finding, elsewhere) for finding in which.ids]
        if not found:
            raise _none(checked, which, take_back=take_back)
        rules = {finding.id: finding.rule for finding in found}
        finding_rows.write_acceptances(writing, checked.at.head.id, rules, why, accepted=not take_back)
        return tuple(found)

    return desk.write(write, work)


def _named(c: Connection, checked: Checked, finding_id: str, elsewhere: Elsewhere) -> Finding:
    """Return the finding of that id of the set, else that of one of its tasks. NotFoundError where neither has it."""
    try:
        return named_finding(checked, finding_id)
    except NotFoundError:
        found = elsewhere(c, checked.at, finding_id)
        if found is None:
            raise
        return found


def _meant(checked: Checked, which: Which) -> list[Finding]:
    sources = {fold(source) for source in which.sources}
    return [
        finding
        for finding in checked.findings
        if (not which.rules or finding.rule in which.rules) and (not sources or _sources(checked, finding) & sources)
    ]


def _sources(checked: Checked, finding: Finding) -> set[str]:
    """Return the folded sources that a finding is of: that which all its points share, and its references."""
    of_points = {checked.waypoints[code].source or "" for code in finding.codes if code in checked.waypoints}
    names = {*of_points} if len(of_points) == 1 else set()
    reference = finding.evidence.get("reference")
    if isinstance(reference, str):
        names |= {reference, reference.rpartition("@")[0]}
    return {fold(name) for name in names if name}


def _none(checked: Checked, which: Which, *, take_back: bool) -> NotFoundError:
    quiet = "accepted" if take_back else "open"
    of = " and ".join(
        part
        for part in (
            f"rule {', '.join(which.rules)}" if which.rules else "",
            f"source {', '.join(which.sources)}" if which.sources else "",
        )
        if part
    )
    there = sorted({finding.rule for finding in checked.findings if (finding.accepted is not None) is take_back})
    return NotFoundError(
        "finding-not-found",
        f"There is no {quiet} finding of {of} in {checked.at}.",
        hint=f"There are {quiet} ones of: {', '.join(there)}; give the same --against as to `taskdb check run`."
        if there
        else f"`{command_line('check run', checked.at.head.name)}` lists what there is.",
    )


@dataclass(frozen=True)
class Accepted:
    """A finding that is quiet: its id and rule, and who accepted it and why."""

    id: str
    rule: str
    acceptance: Acceptance


def accepted_list(desk: Desk, set_reference: str) -> tuple[SetAt, tuple[Accepted, ...]]:
    """Return the set, and what is accepted of it in the order of accepting."""
    with desk.store.reading() as c:
        at = resolve_set(c, set_reference)
        rules = finding_rows.rules_of(c, at.head.id)
        accepted = finding_rows.accepted_findings(c, at.head.id)
        return at, tuple(Accepted(id_, rules[id_], entry) for id_, entry in accepted.items())
