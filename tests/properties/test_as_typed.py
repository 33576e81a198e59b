"""What was typed for a position, kept beside it, reads as that position again, in every notation, and as no other."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from taskdb.core.model import E7, Position, Typed
from taskdb.core.notation.angles import Notation
from taskdb.core.notation.as_typed import is_elevation_as_typed, is_position_as_typed
from taskdb.core.notation.pairs import format_position, split_pair
from taskdb.services.waypoints.typed_values import read_position

latitudes = st.integers(-79 * E7, 79 * E7)
longitudes = st.integers(-180 * E7, 180 * E7 - 1)


@given(latitudes, longitudes, st.sampled_from([n for n in Notation if not n.value.startswith("packed")]))
def test_what_is_typed_reads_as_the_position_it_gave(latitude: int, longitude: int, notation: Notation) -> None:
    text = format_position(Position.from_e7(latitude, longitude), notation)
    position, typed = read_position(text)
    assert is_position_as_typed(position, Typed(**typed))
    moved = Position.from_e7(position.latitude_e7 + 1, position.longitude_e7)
    assert not is_position_as_typed(moved, Typed(**typed))
    moved = Position.from_e7(position.latitude_e7, -position.longitude_e7 - 1)
    assert not is_position_as_typed(moved, Typed(**typed))


@given(latitudes, longitudes, st.sampled_from(["packed-minutes", "packed-seconds"]))
def test_packed_columns_read_as_the_position_they_gave(latitude: int, longitude: int, name: str) -> None:
    text = format_position(Position.from_e7(latitude, longitude), Notation(name))
    halves = split_pair(text)
    assert isinstance(halves, tuple)
    position, _ = read_position(text)
    typed = Typed(*halves, name)
    assert is_position_as_typed(position, typed)
    assert not is_position_as_typed(Position.from_e7(-position.latitude_e7 - 1, position.longitude_e7), typed)


@pytest.mark.parametrize(
    ("typed", "unit", "metres", "holds"),
    [
        ("389", "m", 389.0, True),
        ("389", "m", 389.1, False),
        ("1312 ft", "ft", 399.9, True),
        ("1312", "ft", 1312.0, False),
        ("1.312,5", "m", 1312.5, True),
        ("1,312", "m", 1312.0, True),
        ("-3", "m", -3.0, True),
        ("", "m", 5.0, True),
        ("389", None, 5.0, True),
    ],
)
def test_an_elevation_is_what_was_typed_in_its_unit(typed: str, unit: str | None, metres: float, holds: bool) -> None:
    assert is_elevation_as_typed(metres, Typed(elevation=typed, elevation_unit=unit)) is holds


def test_west_is_read_from_an_o_either_way() -> None:
    typed = Typed("47 15.600N", "011 20.400O", "degrees-minutes")
    assert is_position_as_typed(Position(47.26, 11.34), typed)
    assert is_position_as_typed(Position(47.26, -11.34), typed)
    assert not is_position_as_typed(Position(47.26, 11.35), typed)


def test_a_grid_that_reads_past_the_antimeridian_is_the_place_on_its_other_side() -> None:
    at = Position.from_e7(100_000_000, -1_800_000_000)
    for notation in (Notation.UTM, Notation.MGRS):
        position, typed = read_position(format_position(at, notation))
        assert is_position_as_typed(position, Typed(**typed))
