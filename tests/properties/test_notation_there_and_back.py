"""Printing and reading are inverse in every notation, and nothing that is printed holds 60 minutes or seconds."""

from __future__ import annotations

import contextlib
import math
import re

import pytest
from hypothesis import given, settings, strategies as st

from taskdb.core.model import Position
from taskdb.core.notation import (
    PARTS,
    Axis,
    Decision,
    Notation,
    Trouble,
    decide_pairs,
    format_angle,
    format_position,
    looks_like_position,
    parse_position,
    read_angle,
    read_column,
    read_pairs,
)
from taskdb.errors import TaskdbError

LATITUDES = st.integers(-900_000_000, 900_000_000)
LONGITUDES = st.integers(-1_800_000_000, 1_799_999_999)
ANGLES = st.one_of(st.tuples(st.just(Axis.LATITUDE), LATITUDES), st.tuples(st.just(Axis.LONGITUDE), LONGITUDES))
POSITIONS = st.builds(Position.from_e7, LATITUDES, LONGITUDES)
EXACT = {
    Notation.DECIMAL: 7,
    Notation.MINUTES: 6,
    Notation.PACKED_MINUTES: 6,
    Notation.SECONDS: 4,
    Notation.PACKED_SECONDS: 4,
}


@given(ANGLES, st.sampled_from(sorted(PARTS)))
def test_with_enough_decimals_an_angle_reads_back_exactly(angle: tuple[Axis, int], notation: Notation) -> None:
    axis, e7 = angle
    text = format_angle(e7, axis, notation, EXACT[notation])
    readings = read_angle(text, axis)
    assert not isinstance(readings, Trouble), (text, readings)
    assert [r.e7 for r in readings] == [e7]
    assert readings[0].fits(notation)
    assert read_column([text], axis, Decision(notation)).values_e7 == [e7]


@given(ANGLES, st.sampled_from(sorted(PARTS)), st.integers(0, 5))
def test_what_is_printed_is_a_fixed_point_and_holds_no_60(
    angle: tuple[Axis, int], notation: Notation, decimals: int
) -> None:
    axis, e7 = angle
    text = format_angle(e7, axis, notation, decimals)
    if notation in (Notation.MINUTES, Notation.SECONDS):
        assert not re.search(r"[°′]60", text)
    if notation is Notation.PACKED_MINUTES and decimals == 0:
        return  # DDMM without decimals is read, but as a coarser form of either packed notation.
    readings = read_angle(text, axis)
    assert not isinstance(readings, Trouble), (text, readings)
    again = [format_angle(r.e7, axis, notation, decimals) for r in readings if r.fits(notation)]
    assert text in again


@settings(max_examples=200)
@given(POSITIONS, st.sampled_from(sorted(set(Notation) - {Notation.UTM, Notation.MGRS})))
def test_a_position_reads_back_in_every_exact_notation(position: Position, notation: Notation) -> None:
    text = format_position(position, notation, EXACT.get(notation, 7))
    assert looks_like_position(text)
    assert parse_position(text) == position
    column = read_pairs([text], decide_pairs([text]))
    assert (column.pairs[0].latitude_e7, column.troubles) == (position.latitude_e7, [])


@settings(max_examples=200, deadline=None)
@given(st.builds(Position.from_e7, st.integers(-799_000_000, 839_000_000), LONGITUDES))
def test_a_grid_position_reads_back_within_its_metre(position: Position) -> None:
    for notation in (Notation.UTM, Notation.MGRS):
        text = format_position(position, notation)
        back = parse_position(text)
        assert abs(back.latitude_deg - position.latitude_deg) < 1.5e-5
        turn = (back.longitude_deg - position.longitude_deg + 180) % 360 - 180
        assert abs(turn) * math.cos(math.radians(position.latitude_deg)) < 1.5e-5


@given(st.text(max_size=40))
def test_no_text_breaks_a_reader(text: str) -> None:
    for axis in Axis:
        assert read_angle(text, axis)
    looks_like_position(text)
    for notation in Notation:
        read_pairs([text], Decision(notation))
    with contextlib.suppress(TaskdbError):
        parse_position(text)


@given(st.text("NSEWO0123456789°'\"′″.,+-: dmsgeo:/", max_size=30))
def test_no_text_of_coordinate_signs_breaks_a_reader(text: str) -> None:
    try:
        position = parse_position(text)
    except TaskdbError:
        return
    assert -90 <= position.latitude_deg <= 90 and -180 <= position.longitude_deg < 180


@pytest.mark.parametrize("notation", sorted(PARTS))
def test_the_poles_and_the_date_line_print_and_read(notation: Notation) -> None:
    for e7 in (-900_000_000, 900_000_000, 0):
        readings = read_angle(format_angle(e7, Axis.LATITUDE, notation, 2), Axis.LATITUDE)
        assert not isinstance(readings, Trouble) and readings[0].e7 == e7


SHAPES = {
    Notation.MINUTES: [
        "{d:02d} {m:02d}.{f:03d}{l}",
        "{l}{d:03d}°{m:02d},{f:03d}'",
        "{d}:{m}{l}",
        "{l} {d:02d}° {m:02d}′",
    ],
    Notation.SECONDS: ["{d:02d} {m:02d} {s:02d}.{f:03d}{l}", "{l}{d:03d}°{m:02d}'{s:02d}\"", "{d}:{m}:{s}{l}"],
    Notation.PACKED_MINUTES: ["{d:02d}{m:02d}.{f:03d}{l}", "{l}{d:03d}{m:02d}"],
    Notation.PACKED_SECONDS: ["{d:02d}{m:02d}{s:02d}{l}", "{l}{d:03d}{m:02d}{s:02d},{f:03d}"],
}


@given(data=st.data(), notation=st.sampled_from(sorted(SHAPES)), axis=st.sampled_from(Axis))
def test_a_column_cut_by_place_reads_as_cell_by_cell(data: st.DataObject, notation: Notation, axis: Axis) -> None:
    """A cell that is no coordinate keeps a column from being cut by place, so that every cell is matched."""
    shape = data.draw(st.sampled_from(SHAPES[notation]))
    cell = st.builds(
        lambda d, m, s, f, side: shape.format(d=d, m=m, s=s, f=f, l=side),
        st.sampled_from([0, 7, 45, 89, 90, 91, 179, 180]),
        st.sampled_from([0, 5, 15, 59, 60]),
        st.sampled_from([0, 5, 30, 59, 60]),
        st.sampled_from([0, 1, 100, 120, 999]),
        st.sampled_from(data.draw(st.sampled_from(["NS", "EW", "NSEW", "N", "W", "WE"]))),
    )
    texts = data.draw(st.lists(cell, min_size=1, max_size=5))
    together = read_column(texts, axis, Decision(notation))
    apart = read_column([*texts, "?"], axis, Decision(notation))
    assert (*together.values_e7, 0) == tuple(apart.values_e7)
    assert (*together.decimals, 0) == tuple(apart.decimals)
    assert together.troubles == apart.troubles[:-1]
