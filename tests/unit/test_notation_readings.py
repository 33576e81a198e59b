"""One coordinate as text: what it can mean, and what is refused with its reason."""

from __future__ import annotations

import pytest

from taskdb.core.notation import Axis, Notation, Trouble, format_angle, read_angle

NORTH = 472_600_000


@pytest.mark.parametrize(
    "text",
    [
        "47.26",
        "47,26",
        "+47.26",
        "47.26N",
        "N 47.26",
        "47.26°",
        "47°15.6'N",
        "47° 15.600′ N",
        "47°15,6’",
        "N47 15.6",
        '47º15´36\u00a0"N',
        "47°15'36''N",
        "47d15m36s",
        "47 deg 15 min 36 sec north",
        "47-15-36N",
        "47:15:36",
        "47 15 36",
        "471536N",
        "N471536",
        "471536.0N",
        "4715.600N",
        "+4715.6",
        "Nord 47° 15′ 36″",
        "lat 47.26",
        "47°\u202f15\u202f36.0″\u00a0N",
    ],
)
def test_one_place_in_many_notations(text: str) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble), readings
    assert [reading.e7 for reading in readings] == [NORTH]


@pytest.mark.parametrize(
    "text", ["-33.9", "−33.9", "33.9S", "S33°54'", "33 54 00 S", "335400S", "süd 33.9", "33°54'00\"s"]
)
def test_the_southern_half(text: str) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble), readings
    assert [reading.e7 for reading in readings] == [-339_000_000]


@pytest.mark.parametrize(
    ("text", "axis", "code"),
    [
        ("47°60.0'N", Axis.LATITUDE, "minutes-60"),
        ("47 15 60 N", Axis.LATITUDE, "seconds-60"),
        ("476000N", Axis.LATITUDE, "minutes-60"),
        ("90.0000001", Axis.LATITUDE, "out-of-range"),
        ("180°00.001'E", Axis.LONGITUDE, "out-of-range"),
        ("-47.26 N", Axis.LATITUDE, "bad-sign"),
        ("N-47.26", Axis.LATITUDE, "bad-sign"),
        ("11.34 O", Axis.LONGITUDE, "ambiguous-letter"),
        ("11.34 E", Axis.LATITUDE, "exchanged"),
        ("47.26 N", Axis.LONGITUDE, "exchanged"),
        ("47D15M36S", Axis.LATITUDE, "ambiguous-south"),
        ("471536", Axis.LATITUDE, "missing-letter"),
        ("112024E", Axis.LONGITUDE, "bad-digits"),
        ("47153N", Axis.LATITUDE, "bad-digits"),
        ("47.5 15 36", Axis.LATITUDE, "bad-coordinate"),
        ("47'15°", Axis.LATITUDE, "bad-coordinate"),
        ("north", Axis.LATITUDE, "bad-coordinate"),
        ("47 15 36 12", Axis.LATITUDE, "bad-coordinate"),
        ("1e1", Axis.LATITUDE, "bad-coordinate"),
        ("nan", Axis.LATITUDE, "bad-coordinate"),
        ("4_7", Axis.LATITUDE, "bad-coordinate"),
        ("", Axis.LATITUDE, "bad-coordinate"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(text: str, axis: Axis, code: str) -> None:
    trouble = read_angle(text, axis)
    assert isinstance(trouble, Trouble), trouble
    assert trouble.code == code
    assert trouble.message


def test_digits_that_fit_two_notations_give_both_readings() -> None:
    readings = read_angle("47153612N", Axis.LATITUDE)
    assert not isinstance(readings, Trouble)
    assert {(r.notation, r.e7) for r in readings} == {
        (Notation.PACKED_MINUTES, 472_560_200),
        (Notation.PACKED_SECONDS, 472_600_333),
    }


def test_digits_of_which_one_reading_is_impossible_have_the_other() -> None:
    # 51°10.179′ of the recorder specification's example: 5110179 cannot be seconds only where they pass 60.
    readings = read_angle("5109692N", Axis.LATITUDE)
    assert not isinstance(readings, Trouble)
    assert [r.notation for r in readings] == [Notation.PACKED_MINUTES]


def test_a_lone_o_is_read_once_its_side_is_told() -> None:
    east, west = (read_angle("11.34 O", Axis.LONGITUDE, letter_o=side) for side in "EW")
    assert not isinstance(east, Trouble) and not isinstance(west, Trouble)
    assert (east[0].e7, west[0].e7) == (113_400_000, -113_400_000)


@pytest.mark.parametrize(
    ("text", "decimals"),
    [
        ("2.7e-05", 6),
        ("47.2600", 2),
        ("47", 0),
        ("47°15.600'", 1),
        ("47°15.601'", 3),
        ("471536N", 0),
        ("47.", 0),
        (".5", 1),
    ],
)
def test_decimals_count_what_was_typed_without_trailing_zeros(text: str, decimals: int) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble)
    assert readings[0].decimals == decimals


@pytest.mark.parametrize(
    ("text", "e7"),
    [
        ("2.7e-05", 270),
        ("-5e-05", -500),
        ("2,7E-05", 270),
        ("1.134e+01", 113_400_000),
        ("1.E+01", 100_000_000),
        ("5.551115123125783e-17", 0),
        ("0.", 0),
        (".0", 0),
        ("-.5", -5_000_000),
        ("47.°", 470_000_000),
        ("47°15.'N", 472_500_000),
    ],
)
def test_numbers_as_programs_write_them(text: str, e7: int) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble), readings
    assert [reading.e7 for reading in readings] == [e7]


@pytest.mark.parametrize("text", ["4.7e1", "47E-1N", "1e+99", "47.26e-", "N2.7e-05", "47 15.6e-01"])
def test_an_exponent_stands_in_a_plain_number_alone(text: str) -> None:
    assert isinstance(read_angle(text, Axis.LATITUDE), Trouble)


@pytest.mark.parametrize(
    "text", ["47.26°", "47°15.6'", "47°15", "47 15.6 N", "47 15 36 N", "47.2612N", "47.75N", "4715.6N"]
)
def test_what_its_own_signs_tell_is_clear(text: str) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble) and readings[0].is_clear


@pytest.mark.parametrize("text", ["47.26", "47.26N", "47 15", "47 15 N", "47 15.6", "471536N", "4715N", "47"])
def test_bare_digits_and_what_may_have_lost_its_point_are_not(text: str) -> None:
    readings = read_angle(text, Axis.LATITUDE)
    assert not isinstance(readings, Trouble) and not readings[0].is_clear


@pytest.mark.parametrize(
    ("e7", "axis", "notation", "decimals", "text"),
    [
        (NORTH, Axis.LATITUDE, Notation.MINUTES, 3, "47°15.600′N"),
        (NORTH, Axis.LATITUDE, Notation.SECONDS, 1, "47°15′36.0″N"),
        (NORTH, Axis.LATITUDE, Notation.PACKED_SECONDS, 0, "471536N"),
        (NORTH, Axis.LATITUDE, Notation.PACKED_MINUTES, 3, "4715.600N"),
        (-113_400_000, Axis.LONGITUDE, Notation.DECIMAL, 7, "-11.3400000"),
        (-113_400_000, Axis.LONGITUDE, Notation.MINUTES, 3, "011°20.400′W"),
        (479_999_999, Axis.LATITUDE, Notation.MINUTES, 3, "48°00.000′N"),
        (479_999_999, Axis.LATITUDE, Notation.SECONDS, 1, "48°00′00.0″N"),
        (1_799_999_999, Axis.LONGITUDE, Notation.PACKED_SECONDS, 0, "1800000E"),
        (-1, Axis.LATITUDE, Notation.MINUTES, 3, "00°00.000′N"),
    ],
)
def test_printing_carries_and_holds_no_60(e7: int, axis: Axis, notation: Notation, decimals: int, text: str) -> None:
    assert format_angle(e7, axis, notation, decimals) == text
