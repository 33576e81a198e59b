"""How people mistype: each kind of slip is explained in the notation that was typed, and said as a person would."""

from __future__ import annotations

import re

import pytest

from taskdb.core.checks.slips import SlipKind, coordinate_slips, explain_difference, possible_origins, whole_slips
from taskdb.core.model import Position, Typed
from taskdb.core.notation.angles import Axis, Notation, format_angle

DM, DMS, D = "degrees-minutes", "degrees-minutes-seconds", "decimal-degrees"


def angle(degrees: float, minutes: float = 0.0, seconds: float = 0.0) -> float:
    return degrees + minutes / 60 + seconds / 3600


def typed(stands: tuple[float, float], notation: str) -> Typed:
    """What a person types who leaves leading zeros out."""
    latitude, longitude = (
        format_angle(round(value * 1e7), axis, Notation(notation), 5 if notation == D else 3)
        for value, axis in zip(stands, Axis, strict=True)
    )
    bare = [re.sub(r"(?<![\d.])0+(?=\d)", "", text) for text in (latitude, longitude)]
    return Typed(bare[0], bare[1], notation)


def place(latitude: float, longitude: float) -> Position:
    return Position.at(latitude, longitude)


LAT = angle(47, 12.345)
LON = angle(11, 17.5)

# title, typed notation, what stands there, what is true, kind, part of the words
CASES = [
    ("swap in minutes", DM, (LAT, angle(11, 53.2)), (LAT, angle(11, 35.2)),
     "swap", "longitude minutes 53.2 look like 35.2|longitude minutes 53 look like 35"),
    ("swap said", DM, (LAT, angle(11, 41)), (LAT, angle(11, 14)),
     "swap", "minutes 41 look like 14 typed the other way round"),
    ("digit in minutes", DM, (angle(47, 42.345), LON), (LAT, LON),
     "digit", "latitude minutes 42 look like 12 with one digit"),
    ("digit in degrees", D, (47.5, 19.25), (47.5, 11.25), "digit", "longitude degrees 19 look like 11"),
    ("digit in decimals", D, (47.52345, 11.25), (47.12345, 11.25),
     "digit", "latitude degrees 47.52345 look like 47.12345"),
    ("digit left out of degrees", D, (47.5, 1.25), (47.5, 11.25),
     "dropped", "degrees 1 look like 11 with a digit left out"),
    ("digit left out of minutes", DM, (angle(47, 2.345), LON), (angle(47, 32.345), LON), "dropped", "a digit left out"),
    ("digit left out of decimals", D, (47.345, 11.25), (47.2345, 11.25), "dropped", "47.345 look like 47.2345"),
    ("digit typed twice", D, (47.5, 110.25), (47.5, 10.25), "doubled", None),
    ("decimals typed twice", D, (47.5534, 11.25), (47.534, 11.25), "doubled", "a digit typed twice"),
    ("hemisphere", DM, (LAT, -LON), (LAT, LON), "hemisphere", "longitude W looks like E"),
    ("southern hemisphere", D, (33.5, 151.25), (-33.5, 151.25), "hemisphere", "latitude N looks like S"),
    ("exchanged", D, (11.25, 47.5), (47.5, 11.25), "exchange", "exchanged"),
    ("exchanged, letters kept", DM, (-angle(8, 30), angle(33, 15)), (-angle(33, 15), angle(8, 30)),
     "exchange", "exchanged"),
    ("one degree off, with a carry", DM, (angle(50, 12), LON), (angle(49, 12), LON), "off", "one degree too large"),
    ("ten minutes off, with a carry", DM, (angle(48, 2), LON), (angle(47, 52), LON), "off", "ten minutes too large"),
    ("point misplaced", D, (4.7125, 11.25), (47.125, 11.25), "point", "the decimal point misplaced"),
    ("minutes taken for decimals", D, (47.12345, 11.175), (LAT, LON),
     "minutes-as-decimals", "read as decimals of a degree"),
    ("decimals taken for minutes", DM, (angle(47, 12.345), angle(11, 17.5)), (47.12345, 11.175),
     "decimals-as-minutes", None),
    ("seconds taken for decimals", DM, (angle(47, 12.34), angle(11, 17.5)), (angle(47, 12, 34), angle(11, 17, 50)),
     "seconds-as-decimals", "seconds read as decimals of a minute"),
    ("decimals taken for seconds", DMS, (angle(47, 12, 34.5), angle(11, 17, 50)), (LAT, LON),
     "decimals-as-seconds", None),
    ("decimals taken for minutes above 59", DM, (angle(51, 15.123), angle(12, 22.5)), (50.75123, 11.825),
     "decimals-as-minutes", "decimals of a degree read as minutes"),
    ("decimals taken for minutes and seconds", DMS, (angle(47, 12, 34.5), angle(11, 17, 50)), (47.12345, 11.175),
     "decimals-as-minutes", "decimals of a degree read as minutes and seconds"),
    ("decimals taken for minutes and seconds, with a zero too many", DMS, (angle(47, 12, 3), angle(11, 17, 50)),
     (47.123, 11.175), "decimals-as-minutes", "decimals of a degree read as minutes and seconds"),
    ("decimals taken for minutes and seconds above 59", DMS, (angle(47, 13, 15.3), angle(12, 5, 12)),
     (47.12753, 11.6512), "decimals-as-minutes", "read as minutes and seconds"),
    ("minutes without their zero taken for decimals", D, (47.5345, 11.75), (angle(47, 5.345), angle(11, 7.5)),
     "minutes-as-decimals", "minutes read as decimals of a degree"),
    ("minutes and seconds taken for decimals", D, (47.1234, 11.175), (angle(47, 12, 34), angle(11, 17, 50)),
     "minutes-as-decimals", "minutes and seconds read as decimals"),
    ("minutes and seconds without a zero taken for decimals", D, (47.512, 11.127),
     (angle(47, 5, 12), angle(11, 12, 7)), "minutes-as-decimals", "minutes and seconds read as decimals"),
    ("seconds without their zero taken for decimals", DM, (angle(47, 12.7), angle(11, 17.5)),
     (angle(47, 12, 7), angle(11, 17, 5)), "seconds-as-decimals", "seconds read as decimals of a minute"),
    ("decimals taken for seconds above 59", DMS, (angle(47, 13, 15), angle(11, 17, 5)),
     (angle(47, 12.75), angle(11, 17.05)), "decimals-as-seconds", "decimals of a minute read as seconds"),
    ("misread, then converted", DM, (47.12345, 11.1753), (LAT, angle(11, 17.53)),
     "minutes-as-decimals", "the coordinates"),
    ("one axis misread, then converted", DM, (47.12345, LON), (LAT, LON), "minutes-as-decimals", "latitude looks like"),
    ("one axis misread", D, (47.12345, LON), (LAT, LON), "minutes-as-decimals", "latitude looks like"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_a_slip_is_explained_and_mended(case: tuple) -> None:
    _, notation, stands, truth, kind, words = case
    slip = explain_difference(place(*stands), place(*truth), typed(stands, notation))
    assert slip is not None
    assert slip.kind == SlipKind(kind)
    assert slip.mended.latitude_deg == pytest.approx(truth[0], abs=0.02 / 60)
    assert slip.mended.longitude_deg == pytest.approx(truth[1], abs=0.02 / 60)
    if words:
        assert any(part in slip.words for part in words.split("|"))


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_a_slip_is_explained_also_where_the_notation_is_not_known(case: tuple) -> None:
    _, _, stands, truth, _, _ = case
    assert explain_difference(place(*stands), place(*truth)) is not None


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_the_true_place_is_among_those_that_a_slip_may_have_come_from(case: tuple) -> None:
    _, notation, stands, truth, _, _ = case
    origins = possible_origins(place(*stands), Typed(notation=notation))
    assert any(
        abs(slip.mended.latitude_deg - truth[0]) < 0.02 / 60 and abs(slip.mended.longitude_deg - truth[1]) < 0.02 / 60
        for slip in origins
    )


def test_what_no_single_slip_explains_is_not_explained() -> None:
    typed = Typed(notation=DM)
    assert explain_difference(place(LAT, LON), place(LAT + 0.0213, LON + 0.0371), typed) is None
    assert explain_difference(place(LAT, LON), place(angle(47, 42.345), angle(11, 47.5)), typed) is None


def test_the_smallest_slip_is_told_where_several_explain() -> None:
    # 47°12' against 47°21': two digits swapped, or two digits wrong; and one degree off against a wrong digit.
    slip = explain_difference(place(angle(47, 12), LON), place(angle(47, 21), LON), Typed(notation=DM))
    assert slip is not None
    assert slip.kind is SlipKind.SWAP


def test_more_than_two_hundredths_of_a_minute_left_over_is_no_explanation() -> None:
    typed = Typed(notation=DM)
    assert explain_difference(place(LAT, LON), place(LAT + 1 + 0.019 / 60, LON), typed) is not None
    assert explain_difference(place(LAT, LON), place(LAT + 1 + 0.022 / 60, LON), typed) is None


def test_the_antimeridian_is_crossed_by_a_tolerance() -> None:
    slip = explain_difference(place(-16.5, -179.99999), place(-17.5, 179.99999), Typed(notation=D))
    assert slip is not None
    assert slip.axis == "latitude"


def test_an_exchange_that_leaves_the_globe_is_not_offered() -> None:
    assert all(slip.kind is not SlipKind.EXCHANGE for slip in whole_slips(place(-33.9, 151.2), Typed(notation=D)))


@pytest.mark.parametrize("true_deg", [0.5, -0.5, 3.0, -3.0])
def test_zero_has_no_sign(true_deg: float) -> None:
    # 0°30′ W that stands as 0°00′: the hemisphere was lost with the digits.
    true, stands = Position.at(47.3, true_deg), Position.at(47.3, 0.0)
    for at in (Typed(notation=DM, decimals=0), None):
        slip = explain_difference(stands, true, at)
        assert slip is not None and slip.mended == true, at


def test_a_value_beside_zero_has_its_sign() -> None:
    values = [slip.value_e7 for slip in coordinate_slips(1_000_000, Axis.LONGITUDE) if slip.kind is SlipKind.DIGIT]
    assert values and min(values) >= 0
    both = [slip.value_e7 for slip in coordinate_slips(0, Axis.LONGITUDE) if slip.kind is SlipKind.DIGIT]
    assert min(both) < 0 < max(both)


def test_the_antimeridian_is_both_hemispheres() -> None:
    values = [slip.value_e7 for slip in coordinate_slips(-1_800_000_000, Axis.LONGITUDE)]
    assert min(values) < 0 < max(values)


def test_the_part_of_a_coordinate_is_named_that_was_mistyped() -> None:
    seconds = explain_difference(place(angle(47, 12, 31.7), LON), place(angle(47, 12, 41.7), LON), Typed(notation=DMS))
    minutes = explain_difference(place(angle(47, 12.8), LON), place(angle(47, 12.1), LON), Typed(notation=DM))
    assert seconds is not None and seconds.words.startswith("latitude seconds 31 look like 41")
    assert minutes is not None and minutes.words.startswith("latitude minutes 12.8 look like 12.1")
