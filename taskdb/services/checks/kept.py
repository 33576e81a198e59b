"""What the checks of a set say to those who only use its points: kept by the values that were checked.

A set of 500 points is checked in a second, and every look at a task asks: so an unchanged set is not checked again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache as once
from pathlib import Path
from typing import TYPE_CHECKING

import taskdb
from taskdb.core.model import Finding, Severity
from taskdb.files.cache import cache, cached
from taskdb.store import findings as finding_rows, sets as set_rows

if TYPE_CHECKING:
    from taskdb.services.references import SetAt
    from taskdb.store.engine import Connection

_FIELDS = ("id", "rule", "severity", "codes", "message")


def open_findings(c: Connection, at: SetAt) -> tuple[Finding, ...]:
    """Return the errors and warnings of a set's checks that nobody has accepted, without evidence and mends.

    Without references, by the rules that need none.
    """
    key = f"checks-{_digest(c, at)}"
    found = _read(cached(key))
    if found is None:
        found = _checked(c, at)
        cache(key, json.dumps([[getattr(f, name) for name in _FIELDS] for f in found]).encode())
    accepted = finding_rows.accepted_findings(c, at.head.id)
    return tuple(finding for finding in found if finding.id not in accepted)


def _checked(c: Connection, at: SetAt) -> tuple[Finding, ...]:
    # The rules and what they look up are imported where they run: most looks at a task find the answer kept.
    from taskdb.services.checks.check import run_alone

    found = run_alone(at, set_rows.packed_at(c, at.head.id, at.revision))
    return tuple(replace(f, evidence={}, suggestion=None, alternatives=()) for f in found if _is_told(f))


def _is_told(finding: Finding) -> bool:
    return finding.severity is not Severity.NOTE


def _read(content: bytes | None) -> tuple[Finding, ...] | None:
    """Return kept findings; None where there are none or they cannot be read."""
    if content is None:
        return None
    try:
        rows = json.loads(content)
        return tuple(_finding(*row) for row in rows) if isinstance(rows, list) else None
    except (ValueError, TypeError, RecursionError):
        return None


def _finding(id: str, rule: str, severity: str, codes: Sequence[str], message: str) -> Finding:
    if not isinstance(codes, list):
        raise TypeError("no list of codes")
    "".join((id, rule, message, *codes)).encode()  # texts that can be written out again, and nothing else
    return Finding(id, rule, Severity(severity), tuple(codes), message, {})


def _digest(c: Connection, at: SetAt) -> str:
    """Return a digest of all that the checks read: the points as they are kept, the rules, the shipped data."""
    values = (str(at), set_rows.digest_at(c, at.head.id, at.revision), _made_by())
    return hashlib.sha256(repr(values).encode("utf-8", "surrogatepass")).hexdigest()


@once
def _made_by() -> tuple[tuple[str, int, int], ...]:
    """Return what tells this installed code and data from another: an upgrade checks anew."""
    package = Path(taskdb.__file__).parent
    found = (path for room in ("core", "reference") for path in (package / room).rglob("*"))
    # What Python compiles beside the sources, and when, says nothing of them.
    files = [path for path in found if path.parent.name != "__pycache__" and path.is_file()]
    return tuple(sorted((path.name, s.st_size, s.st_mtime_ns) for path in files if (s := path.stat())))
