"""No table that is written holds a cell that a spreadsheet would run: one that begins with =, +, -, @, tab or CR.

What was read from such a cell is the same again after going out and in. (Signs: OWASP, CSV Injection; from memory.)
"""

from __future__ import annotations

import csv
import io
import re

import pytest

from taskdb.core.model import Position, Waypoint
from taskdb.formats.registry import (
    parse_profile,
    write_rejects,
    write_set,
    write_set_by_profile,
)
from taskdb.formats.text.cells import neutralise, neutralise_as_typed, restore
from tests.formats.reading import read

FORMULAS = (
    "=1+1",
    "+1+1|cmd",
    "-2+3+cmd|' /C calc'!A0",
    "@SUM(1)",
    "\t=1",
    "\r=1",
    '=HYPERLINK("http://x","y")',
    "'=1",
    "''=1",
)


def rows_of(content: bytes, delimiter: str = ",") -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode(), newline=""), delimiter=delimiter))


def runs(cell: str) -> bool:
    return re.match(r"[=+\-@\t\r]", cell) is not None and re.fullmatch(r"[+-]?\d[\d.,]*", cell) is None


@pytest.mark.parametrize("text", [*FORMULAS, "", "x", "'x", "a=b", "-"])
def test_what_is_made_harmless_comes_back_as_it_was(text: str) -> None:
    assert restore(neutralise(text)) == text
    assert not runs(neutralise(text)) and not runs(neutralise_as_typed(text))
    assert restore(neutralise_as_typed(text)) == restore(text)


@pytest.mark.parametrize("text", ["-33.9", "+47,5", "-48 52.320", "-48°52'19.2\"S", "-12"])
def test_a_signed_number_in_anothers_table_stays_one(text: str) -> None:
    assert neutralise_as_typed(text) == text


def waypoints() -> list[Waypoint]:
    return [
        Waypoint(
            f"={n}",
            text.strip(),
            Position.at(47.0 + n, 11.0),
            description=text.strip(),
            source=text.strip(),
            country="+x",
        )
        for n, text in enumerate(FORMULAS)
    ]


def test_a_set_is_written_without_formulas_and_read_back_with_its_texts() -> None:
    stream = io.BytesIO()
    write_set(stream, (w for w in waypoints() if "=" not in w.code[1:]), "csv", identity=True)
    cells = [cell for row in rows_of(stream.getvalue()) for cell in row]
    assert not [cell for cell in cells if runs(cell)] and sum(cell.startswith("'") for cell in cells) > 20
    codes = io.BytesIO(stream.getvalue().replace(b"'=", b"c", 1))
    assert codes.getvalue()
    named = [Waypoint(f"{n}", w.name, w.position, description=w.description) for n, w in enumerate(waypoints())]
    stream = io.BytesIO()
    write_set(stream, named, "csv")
    assert [(r.waypoint.name, r.waypoint.description) for r in read(stream.getvalue()).records] == [
        (w.name, w.description) for w in named
    ]


def test_a_profile_writes_no_formulas_whatever_its_quoting() -> None:
    for quoting in ("needed", "all", "none"):
        profile = parse_profile(
            f"quoting = '{quoting}'\nseparator = 'semicolon'\n[[column]]\nfield = 'code'\n[[column]]\nfield = 'name'\n"
            "[[column]]\nfield = 'description'\n[[column]]\nfield = 'position'\nnotation = 'degrees-minutes'\n"
        )
        stream = io.BytesIO()
        write_set_by_profile(stream, waypoints(), profile)
        assert not [cell for row in rows_of(stream.getvalue(), ";") for cell in row[:3] if runs(cell)]


@pytest.mark.parametrize("formula", FORMULAS)
def test_rows_that_are_given_back_run_nothing_and_read_as_before_once_mended(formula: str) -> None:
    table = io.StringIO(newline="")
    csv.writer(
        table, lineterminator="\n", quoting=csv.QUOTE_MINIMAL if "\r" not in formula else csv.QUOTE_ALL
    ).writerows(
        [
            ["code", "name", "latitude", "longitude", formula],
            ["1", formula, "97", "-11.5", formula],
            ["2", "x", formula, "11", ""],
        ]
    )
    stream = io.BytesIO()
    assert write_rejects(stream, read(table.getvalue())) == 2
    cells = [cell for row in rows_of(stream.getvalue()) for cell in row]
    assert not [cell for cell in cells if runs(cell)] and "-11.5" in cells
    mended = read(stream.getvalue().replace(b"97", b"47"))
    wanted = read(table.getvalue().replace("97", "47"))
    assert mended.records[0].waypoint == wanted.records[0].waypoint
