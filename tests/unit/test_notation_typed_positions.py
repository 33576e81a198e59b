"""A position as a person types it, told from codes and names, and refused where it is not clear."""

from __future__ import annotations

import pytest

from taskdb.core.notation import looks_like_position, parse_position
from taskdb.errors import UsageError


@pytest.mark.parametrize(
    "text",
    [
        "47.26,11.34",
        "47.26, 11.34",
        "47,26;11,34",
        "47,26 11,34",
        "47,26;11,34",
        "47 15,6 11 20,4",
        "47°15,6' 11°20,4'",
        "47°15.6,11°20.4",
        "47,15.6,11,20.4",
        "47°15.600′N 011°20.400′E",
        "N47°15'36\" E011°20'24\"",
        "E011°20.4' N47°15.6'",
        "471536N0112024E",
        "N471536E0112024",
        "geo:47.26,11.34,512;u=10",
        "+4715.600+01120.400/",
        "+47.26+011.34+512CRSWGS_84/",
    ],
)
def test_one_place_however_it_is_typed(text: str) -> None:
    assert looks_like_position(text)
    position = parse_position(text)
    assert (position.latitude_e7, position.longitude_e7) == (472_600_000, 113_400_000)


def test_a_position_may_begin_with_a_minus_sign() -> None:
    assert looks_like_position("-33.9,151.2")
    assert parse_position("-33.9,151.2").latitude_deg == -33.9


@pytest.mark.parametrize(
    "text", ["HOME", "0123", "Burg, Nord", "A1,B2", "47.26", "region:HOME", "N47", "Day 1, 2 areas", "12"]
)
def test_codes_and_names_are_no_positions(text: str) -> None:
    assert not looks_like_position(text)


@pytest.mark.parametrize("text", ["47.26,191", "97,11", "47°61'N 011°20'E", "11.3E,47.2E"])
def test_a_mistyped_position_is_one_and_is_refused(text: str) -> None:
    assert looks_like_position(text)
    with pytest.raises(UsageError) as refused:
        parse_position(text)
    assert refused.value.code == "bad-position"


@pytest.mark.parametrize("text", ["47153612N011202412E", "47.26N 11.34O", "32S 500000 4000000"])
def test_what_fits_two_places_is_refused_as_ambiguous(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_position(text)
    assert refused.value.code == "ambiguous-position"


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("51,0,5", ["51, 5", "51, 0.5"]),
        ("48,30,11,30", ["48.3, 11.3", "48°30′N 011°30′E"]),
        ("48,30,15,11,30,15", ["48°30.15′N 011°30.15′E", "48°30′15″N 011°30′15″E"]),
        ("51,0 5", ["51, 5", "51, 000°05′E"]),
        ("47 15,6 11 20", ["47°15.6′N 011°20′E", "47°15′N 006°11′20″E"]),
        ("51, 0, 5", ["51, 000°05′E", "51°00′N, 5"]),
        ("-33,9,151,2", ["-33.9, 151.2", "33°09′S 151°02′E"]),
    ],
)
def test_numbers_joined_by_commas_are_refused_with_the_readings(text: str, readings: list[str]) -> None:
    assert looks_like_position(text)
    with pytest.raises(UsageError) as refused:
        parse_position(text)
    assert refused.value.code == "ambiguous-position"
    for reading in readings:
        assert reading in refused.value.message


def test_commas_that_leave_one_reading_are_read() -> None:
    # 2612 and 3412 are no minutes: only decimal commas are left.
    position = parse_position("47,2612,11,3412")
    assert (position.latitude_e7, position.longitude_e7) == (472_612_000, 113_412_000)


def test_a_lone_o_is_refused_with_what_to_write() -> None:
    with pytest.raises(UsageError) as refused:
        parse_position("47.26N 11.34O")
    assert refused.value.hint == "Write E or W in its place."


def test_another_datum_is_refused() -> None:
    with pytest.raises(UsageError):
        parse_position("geo:47.26,11.34;crs=ed50")


def test_180_degrees_east_is_180_degrees_west() -> None:
    assert parse_position("0,180").longitude_deg == -180.0


def test_the_southern_half_written_out_is_clear() -> None:
    north, south = (parse_position(f"32 {half} 500000 4000000") for half in ("north", "south"))
    assert (round(north.latitude_deg), round(south.latitude_deg)) == (36, -54)
