"""Findings that a person accepted: which stand so in a set, by whom and why. The newest row of a finding counts."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection, insert, select

from taskdb.core.model import Acceptance
from taskdb.store.engine import Writing
from taskdb.store.schema import accepted_finding, operation


def accepted_findings(c: Connection, set_id: int) -> Mapping[str, Acceptance]:
    """Return the findings of a set that stand accepted, by id, each with who accepted it and why."""
    table = accepted_finding.c
    query = (
        select(table.finding, table.accepted, operation.c.author, table.why)
        .join_from(accepted_finding, operation, operation.c.id == table.operation_id)
        .where(table.set_id == set_id)
        .order_by(table.id)
    )
    found: dict[str, Acceptance] = {}
    for finding, is_accepted, author, why in c.execute(query):
        if is_accepted:
            found[finding] = Acceptance(by=author, why=why)
        else:
            found.pop(finding, None)
    return found


def rules_of(c: Connection, set_id: int) -> Mapping[str, str]:
    """Return the rule of every finding of a set that was ever accepted, by id."""
    table = accepted_finding.c
    query = select(table.finding, table.rule).where(table.set_id == set_id)
    return {row.finding: row.rule for row in c.execute(query)}


def write_acceptances(w: Writing, set_id: int, findings: Mapping[str, str], why: str, *, accepted: bool = True) -> None:
    """Accept findings of a set, each id with its rule, or take that back; nothing is written for none."""
    common = {"set_id": set_id, "accepted": accepted, "why": why, "operation_id": w.operation_id}
    values = [{"finding": finding, "rule": rule, **common} for finding, rule in findings.items()]
    if values:
        w.connection.execute(insert(accepted_finding), values)
