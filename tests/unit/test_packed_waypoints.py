"""Waypoints that are kept small are the waypoints that were given, and their columns say the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from taskdb.core import packed_waypoints
from taskdb.core.checks.digits import write, write_all
from taskdb.core.model import Feature, Landable, Position, Radio, Runway, Typed, Waypoint
from taskdb.core.notation.angles import Axis, Notation
from taskdb.core.packed_waypoints import ByCode, CodedValues, PackedTexts, PackedWaypoints
from taskdb.core.waypoint_columns import WaypointColumns

PLAIN = Waypoint("B2", "Grünfurt", Position.at(-89.9999999, -180.0))
FULL = Waypoint(
    "A1", "Kelmried", Position.at(48.5, 11.6), 467.0, Landable.FIELD, Feature.RELIEF, "DE",
    (Radio("123.505", "gliders"),), (Runway("07/25", 71.0, 850.0),), "a \ud800 odd sign", "survey", "2027-04-02",
    "ab" * 16, Typed("48°30′", "011°36′", "degrees-minutes", 0, "467", "m"), '{"gpx":1}',
)  # fmt: skip
ROWS = [FULL, PLAIN, replace(FULL, code="", name="", typed=Typed(None, "11", None, None), description=""), PLAIN]


def packed(rows: list[Waypoint], at_once: int) -> PackedWaypoints:
    """Pack waypoints as a store hands them over: in columns, some rows at a time, columns that are empty left out."""
    made = PackedWaypoints()
    for begin in range(0, len(rows), at_once):
        columns = WaypointColumns.of(rows[begin : begin + at_once])
        values = {name: some for name, some in columns.values.items() if any(one not in (None, ()) for one in some)}
        typed = columns.typed if any(columns.typed or ()) else None
        made.extend(replace(columns, values=values, typed=typed))
    return made


@pytest.mark.parametrize("at_once", [1, 3])
@pytest.mark.parametrize("rows", [ROWS, ROWS[::-1], [PLAIN, PLAIN], []])
def test_what_is_packed_comes_out_as_it_was(rows: list[Waypoint], at_once: int) -> None:
    made = packed(rows, at_once)
    # repr has also what does not count for equality.
    assert repr(list(made)) == repr(rows)
    assert repr([*made.columns(0, len(rows)).waypoints()]) == repr(rows)
    assert repr([*made.some(range(1, len(rows))), *made.some([0][: len(rows)])]) == repr(rows[1:] + rows[:1])
    assert list(made.codes) == [one.code for one in rows]
    assert list(made.column("country")) == [one.country for one in rows]
    assert made.stating("radio").tolist() == [row for row, one in enumerate(rows) if one.radio]
    assert [list(some) for some in made.typed.coordinates()] == [
        [getattr(one.typed, name, None) for one in rows] for name in ("latitude", "longitude")
    ]


def test_waypoints_that_are_given_are_handed_out_themselves_in_order_of_code() -> None:
    made = PackedWaypoints.of([PLAIN, FULL]).in_code_order()
    assert [made[0], made[1]] == [FULL, PLAIN]
    assert made[0] is FULL
    assert PackedWaypoints.of(made) is made.in_code_order()


def test_a_waypoint_is_found_by_its_code() -> None:
    found = ByCode(packed([FULL, PLAIN], 2))
    assert (dict(found), "A" in found, found.get("C")) == ({"A1": FULL, "B2": PLAIN}, False, None)


def test_texts_that_several_rows_have_are_told_with_their_rows() -> None:
    texts = PackedTexts(["ö", "b", "a", "ö", "", "a", "", "a"])
    assert texts.repeated() == {"ö": [0, 3], "a": [2, 5, 7], "": [4, 6]}
    assert PackedTexts([]).repeated() == {}


def test_texts_that_outgrow_four_bytes_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packed_waypoints, "_WIDE", 4)
    texts = PackedTexts(["ab"])
    texts.extend(["cdé", "f"])
    assert (list(texts), texts[1]) == (["ab", "cdé", "f"], "cdé")


def test_values_by_their_places_may_be_equal() -> None:
    made = CodedValues.numbered(["a", "b", "a"], np.array([2, 1, 0], dtype=np.int32))
    assert (list(made), made.values) == (["a", "b", "a"], ["a", "b"])
    assert made.where(value == "a" for value in made.values).tolist() == [True, False, True]


@given(st.lists(st.integers(-1_800_000_000, 1_800_000_000), min_size=1, max_size=50))
def test_digits_of_many_coordinates_are_those_of_each(e7: list[int]) -> None:
    e7 += [round(value / 100_000) * 100_000 for value in e7] + [round(value / 166_667) * 166_667 for value in e7]
    for notation, most in ((Notation.DECIMAL, 7), (Notation.MINUTES, 4)):
        rows = zip(*(some.tolist() for some in write_all(np.array(e7), notation, most)), strict=True)
        for value, (degrees, minutes, fraction, decimals) in zip(e7, rows, strict=True):
            written, _ = write(value, Axis.LONGITUDE, notation, most)
            assert [int(part) for part in written.parts] == [degrees, minutes][: len(written.parts)]
            assert written.fraction == (f"{fraction:0{decimals}d}" if decimals else "")
