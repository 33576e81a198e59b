"""Radio channels and runways as one line of text, and back."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from taskdb.core.facilities import format_radio, format_runways, parse_radio, parse_runways, with_channels
from taskdb.core.model import Radio, Runway
from taskdb.errors import UsageError

WORDS = st.one_of(
    st.text(min_size=1, max_size=12).map(lambda s: " ".join(s.split())).filter(bool),
    st.sampled_from(["07/25", "one-way", "strip", "x", "rwy", "850m", "071deg", "grass", "a;b", 'q"x', "b\\"]),
)
SIZES = st.none() | st.floats(0, 1e5, allow_nan=False)
RUNWAYS = st.builds(
    Runway,
    st.none() | WORDS,
    st.none() | st.floats(0, 360, exclude_max=True),
    SIZES,
    SIZES,
    st.none() | WORDS,
    st.booleans(),
)


@given(st.lists(st.builds(Radio, WORDS, st.none() | WORDS), max_size=3))
def test_radio_reads_back_as_it_was_printed(radio: list[Radio]) -> None:
    assert parse_radio(format_radio(radio)) == tuple(radio)


@given(st.lists(RUNWAYS, max_size=3))
def test_runways_read_back_as_they_were_printed(runways: list[Runway]) -> None:
    assert parse_runways(format_runways(runways)) == tuple(runways)


@pytest.mark.parametrize("text", ["07/25 " + "9" * 400 + "m", "850m x " + "9" * 400 + "m"])
def test_a_length_of_hundreds_of_digits_is_no_number_that_could_be_kept(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_runways(text)
    assert "400 digits" in refused.value.message


def test_the_forms_are_as_the_csv_shows_them() -> None:
    assert format_radio([Radio("123.505", "launch"), Radio("122.480")]) == "123.505 launch; 122.480"
    strip = Runway("07/25", 71.0, 850.0, 30.0, "grass")
    assert format_runways([strip]) == "07/25 071deg 850m x 30m grass"
    assert parse_runways("07/25 071deg 850m x 30m grass; 09L asphalt one-way") == (
        strip,
        Runway("09L", None, None, None, "asphalt", True),
    )


@pytest.mark.parametrize("text", ["850", "07/25 850", "400deg", "x grass"])
def test_a_size_without_unit_or_a_heading_that_does_not_exist_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_runways(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Funk 123,505, vorher anrufen", "Funk 123.505, vorher anrufen"),
        ("Start 122,480/123,505 MHz", "Start 122.480/123.505 MHz"),
        ("123.505", "123.505"),
        # No channel of the air band ends so, lies there, or has a unit of its own.
        ("122,470", "122,470"),
        ("153,655", "153,655"),
        ("Strecke 123,505 km, 118,500m hoch", "Strecke 123,505 km, 118,500m hoch"),
        ("1.123,505 und 123,5051", "1.123,505 und 123,5051"),
    ],
)
def test_a_channel_in_a_remark_is_written_as_all_others(text: str, expected: str) -> None:
    assert with_channels(text) == expected
    assert with_channels(expected) == expected
