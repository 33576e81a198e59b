"""The drawing base: tables at every width, wide letters, escapes, numbers."""

from __future__ import annotations

import io

import pytest
from hypothesis import given, strategies as st

from taskdb.cli.render.console import Column, Printer, display_width, safe
from taskdb.cli.render.numbers import course, distance, elevation, short_distance, speed
from taskdb.core.numbers import counted
from taskdb.core.quantities import Units

ROWS = [["HOME", "Home field", 123], ["Q1", "Quarry", None]]
COLUMNS = ["code", "name", Column("elevation", right=True)]


def drawn(draw, **how) -> str:
    paper = io.StringIO()
    draw(Printer(paper, **how))
    return paper.getvalue()


def test_a_plain_table_is_aligned_with_numbers_to_the_right():
    assert drawn(lambda out: out.table(COLUMNS, ROWS)).splitlines() == [
        "code  name        elevation",
        "HOME  Home field        123",
        "Q1    Quarry              –",
    ]


def test_a_table_without_rows_is_its_heading():
    assert drawn(lambda out: out.table(COLUMNS, [])) == "code  name  elevation\n"


def test_wide_letters_and_combining_marks_are_counted_as_they_show():
    shown = drawn(lambda out: out.table(["code", "name"], [["東京", "a"], ["e\u0301t", "b"], ["x", "c"]]))
    assert [display_width(line.rpartition(" ")[0]) for line in shown.splitlines()[1:]] == [5, 5, 5]


def test_without_a_terminal_nothing_is_folded_or_cropped():
    name = "a very long name " * 40
    assert name.strip() in drawn(lambda out: out.table(["code", "name"], [["A", name.strip()]]))


@pytest.mark.parametrize("width", [1, 20, 40, 80])
def test_on_a_terminal_a_wide_table_is_folded_and_keeps_every_letter(width):
    name = "".join(chr(0x4E00 + n) for n in range(100))
    shown = drawn(lambda out: out.table(["code", "name"], [["A", name], ["B", "x" * 300]]), width=width)
    assert "".join(c for c in shown if c >= "\u4e00") == name
    assert shown.count("x") == 300
    assert all(display_width(line) <= max(width, 12) for line in shown.splitlines())


def test_a_table_that_fits_looks_the_same_on_a_terminal():
    def draw(out):
        out.table(COLUMNS, ROWS)

    assert drawn(draw, width=80) == drawn(draw)


def test_markup_in_data_is_only_text():
    shown = drawn(lambda out: out.table(["a"], [["[bold]x[/bold] :smile: " + "y" * 100]]), width=40, color=True)
    assert "[bold]x[/bold]" in shown
    assert ":smile:" in shown


def test_pairs_leave_out_what_is_not_known():
    assert drawn(lambda out: out.pairs([("set", "Vale"), ("label", None), ("count", 3)])) == "set    Vale\ncount  3\n"


def test_a_limited_list_says_so_and_a_whole_one_does_not():
    assert drawn(lambda out: out.shown(20, 347, "waypoints")) == "showing 20 of 347 waypoints\n"
    assert drawn(lambda out: out.shown(347, 347, "waypoints")) == ""


@given(st.text())
def test_safe_text_has_nothing_that_steers_and_keeps_the_rest(text):
    shown = safe(text)
    assert not any(c < " " or "\x7f" <= c <= "\x9f" or "\u202a" <= c <= "\u202e" for c in shown)
    if text.isprintable():
        assert shown == text


def test_numbers_for_people():
    assert counted(1, "waypoint") == "1 waypoint"
    assert counted(0, "entry", "entries") == "0 entries"
    # Definitions: 1 NM = 1852 m (ICAO Annex 5), 1 statute mile = 1609.344 m, 1 ft = 0.3048 m.
    assert distance(185_200, Units.NMI) == "100.0 nmi"
    assert distance(160_934.4, Units.MI) == "100.0 mi"
    assert short_distance(999.4, Units.KM) == "999 m"
    assert short_distance(999.6, Units.KM) == "1.0 km"
    assert speed(92.6, Units.NMI) == "50.0 kt"
    assert elevation(304.8) == "305 m (1000 ft)"
    assert course(359.6) == "000°"
    assert (distance(None, Units.KM), course(None), speed(None, Units.KM), elevation(None)) == (None,) * 4


TASKS = [
    ["Cup", "Long triangle", "assigned-area", "143.8 km", None, "001 004 003 001"],
    ["Cup", "B", "racing", "90.1 km", None, "001 003 001"],
]
TASK_COLUMNS = ["contest", "task", "type", Column("distance", right=True), "flown", "points"]


def test_a_table_that_is_too_wide_is_folded_between_words_without_empty_columns():
    shown = drawn(lambda out: out.table(TASK_COLUMNS, TASKS), width=50)
    assert shown.splitlines() == [
        "contest  task      type           distance  points",
        "Cup      Long      assigned-area  143.8 km  001",
        "         triangle                           004",
        "                                            003",
        "                                            001",
        "Cup      B         racing          90.1 km  001",
        "                                            003",
        "                                            001",
    ]


def test_where_not_even_words_fit_a_row_is_a_few_lines_of_titles_and_values():
    shown = drawn(lambda out: out.table(TASK_COLUMNS, TASKS), width=42)
    assert shown.splitlines() == [
        "contest Cup  task Long triangle",
        "  type assigned-area  distance 143.8 km",
        "  points 001 004 003 001",
        "contest Cup  task B  type racing",
        "  distance 90.1 km  points 001 003 001",
    ]


@given(st.lists(st.lists(st.text("xyzäß東 ", max_size=60), min_size=5, max_size=5), min_size=1), st.integers(40, 90))
def test_at_any_width_no_letter_is_lost_and_no_line_too_wide(rows, width):
    shown = drawn(lambda out: out.table(["a", "bb", "ccc", "dddd", "eeeee"], rows), width=width)
    assert all(display_width(line) <= width for line in shown.splitlines())
    for letter in "xyzäß東":
        assert shown.count(letter) == sum(cell.count(letter) for row in rows for cell in row)


def test_a_long_line_is_folded_between_words_on_a_terminal_alone():
    text = "  note: the same points in the same order, with other zones, type or time, as a task that stands already"
    assert drawn(lambda p: p.line(text)) == f"{text}\n"
    lines = drawn(lambda p: p.line(text), width=60).splitlines()
    assert lines == [
        "  note: the same points in the same order, with other",
        "    zones, type or time, as a task that stands already",
    ]


def test_a_line_with_a_command_is_never_folded():
    text = "27 settings at their defaults, and many more words that make it long: taskdb contest show Cup --defaults"
    assert drawn(lambda p: p.line(text), width=60) == f"{text}\n"


def test_a_long_value_stands_under_its_beginning():
    lines = drawn(lambda p: p.pairs([("tags", "wave"), ("remarks", "late start, " * 6)]), width=50).splitlines()
    assert lines[0] == "tags     wave"
    assert lines[1].startswith("remarks  late") and lines[2].startswith("         start")
    assert max(map(len, lines)) <= 50


def test_a_script_of_our_own_is_never_folded():
    text = "x " * 60
    assert drawn(lambda p: p.block(text), width=50) == f"{text}\n"
