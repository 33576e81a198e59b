"""What checks of a set and reviews of a task share: a finding's id, the order of findings, the page of a rule.

An id is the same in every store for the same rule, codes and values, and gone when a value changes that the rule read.
"""

from __future__ import annotations

import hashlib
import inspect
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, is_dataclass
from typing import Any, Protocol

from taskdb.core.model import Finding, Position, Severity
from taskdb.errors import NotFoundError

_ID_DIGITS = 10


class Explained(Protocol):
    """A rule as far as its page is concerned: its function's docstring is the page that a user reads."""

    @property
    def name(self) -> str: ...

    @property
    def summary(self) -> str: ...

    @property
    def function(self) -> Callable[..., Any]: ...


def finding_id(rule: str, codes: Sequence[str], read: Sequence[Any]) -> str:
    """Return a short hash of the rule, its codes and the canonical values that it read."""
    values = [canonical(value) for value in read]
    text = json.dumps([rule, list(codes), values], ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:_ID_DIGITS]


def canonical(value: Any) -> Any:
    """Return a value as the store compares it: 1e-7 degree, 0.1 m, everything else as it is."""
    if isinstance(value, Position):
        return [value.latitude_e7, value.longitude_e7]
    if isinstance(value, float):
        return round(value * 10)
    if isinstance(value, tuple | list):
        return [canonical(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {name: canonical(item) for name, item in asdict(value).items()}
    return value


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings by severity, rule, codes and id; one of each id."""
    unique: dict[str, Finding] = {}
    for finding in findings:
        unique.setdefault(finding.id, finding)
    return tuple(sorted(unique.values(), key=lambda one: (severity_rank(one.severity), one.rule, one.codes, one.id)))


def severity_rank(severity: Severity) -> int:
    """Return 0 for an error, 1 for a warning, 2 for a note."""
    return list(Severity).index(severity)


def is_at_least(severity: Severity, than: Severity) -> bool:
    """Return whether a severity is at or above another."""
    return severity_rank(severity) <= severity_rank(than)


def findings_that_matter(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the errors and warnings that nobody has accepted, errors first."""
    open_ = [f for f in findings if f.accepted is None and f.severity is not Severity.NOTE]
    return tuple(sorted(open_, key=lambda f: f.severity is not Severity.ERROR))


def page_of(name: str, rules: Sequence[Explained]) -> str:
    """Return the page that a user reads about a rule; NotFoundError names the rules that there are."""
    for rule in rules:
        if rule.name == name:
            return inspect.getdoc(rule.function) or rule.summary
    raise NotFoundError(
        "no-such-rule",
        f"There is no rule {name!r}.",
        hint="One of: " + ", ".join(rule.name for rule in rules) + ".",
        details={"rules": [rule.name for rule in rules]},
    )
