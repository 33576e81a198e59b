"""Rows that are cut, numbered and found a block at a time are those that are got one by one."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from itertools import islice
from unittest.mock import patch

from hypothesis import example, given, settings, strategies as st

from taskdb.core.history.import_plan import _RowsOfCodes
from taskdb.formats.registry import ReadOptions, read_set
from taskdb.formats.text import rows as text_rows
from taskdb.formats.text.rows import split_rows

CELLS = st.text(st.sampled_from("ab ,;'#\"\\\t\x1c\u2028é\U0001f6e9"), max_size=4)
LINES = st.lists(st.tuples(st.lists(CELLS, max_size=4), st.sampled_from(["\n", "\r\n", "\r", ""])), max_size=6)


def split(text: str, width: int, *, at_once: bool) -> list[object]:
    """Split by blocks of two lines; with `at_once` the way of nearly all blocks may be taken."""
    lines = io.StringIO(text, newline="")
    cut = text_rows._cut if at_once else lambda *_, **__: None
    with patch.object(text_rows, "_cut", cut), patch.object(text_rows, "BATCH", 2):
        batches = split_rows(iter(lines), ",", width, first_line=1, skip_header=False, comments=0)
        return [(b.lines, [list(row) for row in b.rows], b.broken, b.comments, b.longer) for b in batches]


@settings(max_examples=300)
@given(LINES, st.integers(1, 3))
@example([(["#a", "b"], "\n"), (["c", "d"], "\n"), (["e", "f"], "\r\n"), (["#g", "h"], "\n"), (["i", "j"], "")], 2)
@example([(["", ""], "\n"), (["c", "d"], "\r"), (["e", "f"], "\r")], 2)
def test_lines_cut_at_once_are_split_as_the_csv_module_does(lines: list[tuple[list[str], str]], width: int) -> None:
    text = "".join(",".join(cells) + end for cells, end in lines)
    assert split(text, width, at_once=True) == split(text, width, at_once=False)


@given(st.lists(st.sampled_from("ABCDEF"), max_size=6), st.sets(st.sampled_from("ABCDEFG")), st.integers(1, 3))
def test_rows_found_in_a_run_are_those_found_by_their_codes(
    given_order: list[str], standing: set[str], together: int
) -> None:
    codes = list(dict.fromkeys(given_order))
    find, order = _RowsOfCodes(codes, range(len(codes)), ()), iter(sorted(standing))
    while batch := list(islice(order, together)):
        assert list(find.rows(batch)) == [codes.index(code) if code in codes else None for code in batch]


def read_codes(codes: Sequence[str]) -> list[tuple[int, str]]:
    """Read a file of these codes in blocks of two rows, every fifth row a bad one; return lines and codes refused."""
    out = io.StringIO(newline="")
    rows = [(code, "x", "48.5", "99.5" if i % 5 else "999.5") for i, code in enumerate(codes)]
    csv.writer(out).writerows([("code", "name", "latitude", "longitude"), *rows])
    with patch.object(text_rows, "BATCH", 2):
        reading = read_set(io.BytesIO(out.getvalue().encode()), options=ReadOptions(notation="decimal-degrees"))
    return [(problem.line, problem.message) for problem in reading.problems if problem.code == "repeated-code"]


@settings(max_examples=60)
@given(st.lists(st.sampled_from("ABCDEFGH"), min_size=1, max_size=9))
def test_a_code_that_stands_twice_is_told_wherever_the_order_breaks(codes: list[str]) -> None:
    first: dict[str, int] = {}
    wanted = []
    for line, code in enumerate(codes, start=2):
        if code in first:
            wanted.append((line, f"the code {code} stands already on line {first[code]}"))
        first.setdefault(code, line)
    assert read_codes(codes) == wanted
