"""The codes of a file's rows: from a column, from the names, or by number; each checked, and no code twice.

Codes are never invented in silence: where a file has none, a person says where they come from.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice
from operator import lt
from typing import Protocol

from taskdb.core.names import clean_text, code_problem
from taskdb.core.notation import Trouble
from taskdb.errors import InputError
from taskdb.formats.text.cells import restore
from taskdb.formats.text.headers import Assignment, find_column
from taskdb.formats.text.intake import Records

_PLAIN = r"[A-Za-z0-9_][A-Za-z0-9_./-]{0,99}+"
PLAIN_CODE = re.compile(_PLAIN).fullmatch
_ALL_PLAIN = re.compile(rf"{_PLAIN}(?:\n{_PLAIN})*+").fullmatch
_NO_CODE = re.compile(r"[\s:,@=]+")
_LIKE_A_CODE = re.compile(r"[^\Wa-z][^a-z\s:,@=]{0,11}").fullmatch

CODES_HINT = "Say where codes come from: --codes name, --codes number, or --column code=HEADER."

_NAMELESS_HINT = "Say which holds what: --column code=HEADER, or --column name=HEADER --codes name, or --codes number."


class Tell(Protocol):
    """What takes a problem of row `i` of the running batch."""

    def __call__(self, i: int, field: str | None, value: str | None, trouble: Trouble) -> None: ...


def code_of_name(name: str) -> str:
    """Return a code made of a name: what a code cannot hold becomes an underscore."""
    return _NO_CODE.sub("_", name.strip()).lstrip("-")


def source_of_codes(
    told: str | None,
    assignment: Assignment,
    headers: Sequence[str],
    names: Sequence[str],
    others: Sequence[str] = (),
) -> int | str:
    """Return the column that holds the codes, or `name` or `number`.

    `names` is a sample of the names, where the format calls short codes so (GPX, KML): they are taken where every one
    looks like a code (capitals and digits, no blanks). `others` can be named as a column besides. Raises InputError
    where nothing is told and nothing found.
    """
    columns = assignment.columns
    if told is None:
        if "code" in columns:
            return columns["code"]
        if names and "name" in columns and all(_LIKE_A_CODE(name) for name in names) and len(set(names)) == len(names):
            return columns["name"]
        ways = [*([["--codes", "name"]] if "name" in columns else []), ["--codes", "number"]]
        what = "names that are no codes" if names else "no column for the code of a waypoint"
        of = f"; it also has {', '.join(others)}" if others else ""
        hint = CODES_HINT if columns.keys() & {"name"} else _NAMELESS_HINT
        details = {"columns": [*headers, *others], "ways": ways}
        raise InputError("no-codes", f"The file has {what}{of}.", hint=hint, details=details)
    if told == "name":
        if "name" not in columns:
            raise InputError("no-names", "The file has no names to make codes of.", hint="Use --codes number.")
        return told
    return told if told == "number" else find_column(headers, told, others)


class Codes:
    """The codes of a reading, batch by batch."""

    def __init__(self, source: int | str, records: Records) -> None:
        self.source = source
        self.records = records
        self.rejected: dict[str, int] = {}
        self.count = 0
        self._last = ""
        self._seen: set[str] | None = None
        """All codes so far; None while each was greater than the one before, and none can stand twice."""
        self._line_of: dict[str, int] | None = None

    def read(
        self, columns: Sequence[Sequence[str]], names: Sequence[str] | None, lines: Sequence[int], tell: Tell
    ) -> list[str]:
        """Return the codes of a batch; what is no code, and a code that stands already, is told."""
        texts: Sequence[str]
        if isinstance(self.source, int):
            texts = columns[self.source]
            joined = "\n".join(texts)
            if joined.count("\n") == len(texts) - 1 and _ALL_PLAIN(joined):
                return self._checked(list(texts), lines, tell)
            codes = [clean_text(restore(text)) for text in texts]
        elif self.source == "name":
            texts = names or []
            codes = [code_of_name(name) for name in texts]
        else:
            texts = codes = [f"{self.count + i + 1:03d}" for i in range(len(lines))]
        for i, code in enumerate(codes):
            if not PLAIN_CODE(code):
                problem = code_problem(code)
                if problem is not None:
                    tell(i, "code", texts[i], Trouble("bad-code", problem, code_of_name(code) or None))
        return self._checked(codes, lines, tell)

    def _checked(self, codes: list[str], lines: Sequence[int], tell: Tell) -> list[str]:
        """Tell the codes that stand already."""
        self.count += len(lines)
        if self._seen is None:
            if self._last < codes[0] and all(map(lt, codes, islice(codes, 1, None))):
                self._last = codes[-1]
                return codes
            self._seen = {*self.records.codes, *self.rejected}
        if len(set(codes)) < len(codes) or not self._seen.isdisjoint(codes):
            self._tell_repeated(codes, lines, tell)
        self._seen.update(codes)
        if self._line_of is not None:
            for code, line in zip(codes, lines, strict=True):
                self._line_of.setdefault(code, line)
        return codes

    def _tell_repeated(self, codes: Sequence[str], lines: Sequence[int], tell: Tell) -> None:
        """Tell each code that stands on an earlier line, on its later line."""
        if self._line_of is None:
            self._line_of = dict(self.rejected)
            for code, line in zip(self.records.codes, self.records.lines, strict=True):
                self._line_of[code] = min(line, self._line_of.get(code, line))
        here: dict[str, int] = {}
        for i, code in enumerate(codes):
            earlier = self._line_of.get(code) or here.get(code)
            if earlier is None:
                here[code] = lines[i]
            elif code:
                tell(i, "code", code, Trouble("repeated-code", f"the code {code} stands already on line {earlier}"))
