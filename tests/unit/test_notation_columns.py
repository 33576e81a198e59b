"""The notation of a column is decided from the column; what fits two notations is refused with both readings."""

from __future__ import annotations

import pytest

from taskdb.core.notation import Axis, Decision, Notation, decide, decide_pairs, read_column, read_pairs
from taskdb.errors import InputError


def test_each_notation_is_recognised() -> None:
    for latitude, longitude, notation in [
        ("47.26", "11.34", Notation.DECIMAL),
        ("47°15.6'N", "11°20.4'E", Notation.MINUTES),
        ("47 15 36 N", "11 20 24 E", Notation.SECONDS),
        ("4715.600N", "01120.400E", Notation.PACKED_MINUTES),
        ("471536N", "0112024E", Notation.PACKED_SECONDS),
    ]:
        assert decide([latitude], [longitude]).notation is notation


def test_whole_minutes_stand_in_a_column_of_seconds() -> None:
    decision = decide(["47°15'36\"N", "47°15'N"], ["011°20'24\"E", "011°E"])
    assert decision.notation is Notation.SECONDS
    assert read_column(["47°15'N", "47°"], Axis.LATITUDE, decision).troubles == []


def test_a_row_in_another_notation_is_trouble_of_that_row() -> None:
    decision = decide(["47°15.6'N"] * 3 + ["47.26"], ["011°20.4'E"] * 4)
    reading = read_column(["47°15.6'N", "47.26"], Axis.LATITUDE, decision)
    assert [(i, t.code) for i, t in reading.troubles] == [(1, "other-notation")]


def test_a_row_that_its_own_signs_tell_is_read_whatever_the_column_is_in() -> None:
    decision = decide(["4715.6"] * 3, ["01120.4"] * 3, wanted=Notation.PACKED_MINUTES)
    reading = read_column(["4715.6", "47°15'36\"", "47 15.6 N", "47.2600N", "47.26"], Axis.LATITUDE, decision)
    assert reading.values_e7 == [472_600_000] * 4 + [0]
    assert reading.by_signs == [1, 2, 3]
    assert [(i, t.code) for i, t in reading.troubles] == [(4, "other-notation")]


def test_degrees_with_a_letter_may_be_minutes_in_a_column_of_minutes() -> None:
    decision = decide(["47°15.6'N"] * 4, ["011°20.4'E"] * 4)
    reading = read_column(["47.26N", "47.2612N", "47 15 N", "471536N"], Axis.LATITUDE, decision)
    assert [(i, t.code) for i, t in reading.troubles] == [(0, "other-notation"), (3, "other-notation")]
    assert reading.values_e7[1:3] == [472_612_000, 472_500_000]


def test_a_lost_point_in_a_column_of_degrees_makes_no_minutes() -> None:
    reading = read_column(["47 15", "47 15 N", "471536N"], Axis.LATITUDE, Decision(Notation.DECIMAL))
    assert [t.code for _, t in reading.troubles] == ["other-notation"] * 3


def test_packed_digits_that_fit_both_are_refused_with_both_readings_and_the_option() -> None:
    with pytest.raises(InputError) as refused:
        decide(["47153612N"] * 20, ["011202412E"] * 20)
    assert refused.value.code == "ambiguous-notation"
    assert "47°15.3612′N" in refused.value.message and "47°15′36.12″N" in refused.value.message
    assert "--notation packed-minutes" in (refused.value.hint or "")


def test_digits_past_60_in_many_rows_decide_for_minutes() -> None:
    latitudes = ["5110179N", "5209692N", "5230847N", "5111759N"]
    decision = decide(latitudes, ["00102644W", "00255927W", "00017712W", "00101999W"])
    assert decision.notation is Notation.PACKED_MINUTES
    assert read_column(latitudes, Axis.LATITUDE, decision).values_e7[0] == 511_696_500


def test_one_mistyped_row_does_not_turn_a_column_of_seconds_into_minutes() -> None:
    # Of 40 rows one has 75 seconds: as minutes all would fit, and every place would be wrong.
    with pytest.raises(InputError):
        decide(["4715361N"] * 39 + ["4715751N"], ["01120241E"] * 40)


def test_the_option_decides() -> None:
    decision = decide(["47153612N"], ["011202412E"], wanted=Notation.PACKED_SECONDS)
    assert read_column(["47153612N"], Axis.LATITUDE, decision).values_e7 == [472_600_333]
    bare = decide(["471536"], ["112024"], wanted=Notation.PACKED_SECONDS)
    assert read_column(["471536", "-471536"], Axis.LATITUDE, bare).values_e7 == [472_600_000, -472_600_000]


def test_a_lone_o_is_told_by_the_other_letters_of_the_column_or_refused() -> None:
    german = decide(["47.1N"] * 2, ["11.3 O", "1.2 W"])
    french = decide(["47.1N"] * 2, ["11.3 O", "1.2 E"])
    assert (german.letter_o, french.letter_o) == ("E", "W")
    with pytest.raises(InputError) as refused:
        decide(["47.1N"], ["11.3 O"])
    assert refused.value.code == "ambiguous-letter" and "--letter-o" in (refused.value.hint or "")
    assert decide(["47.1N"], ["11.3 O"], letter_o="E").letter_o == "E"


def test_e_beside_o_decides_nothing_where_both_lie_in_one_region() -> None:
    # A German list with an English E in it: both are east.
    with pytest.raises(InputError):
        decide(["47.1N"] * 2, ["11.3 O", "11.4 O", "11.5 E"])
    mixed = decide(["47.1N"] * 2, ["11.3 O", "11.4 E", "11.5 E", "11.6 E"])
    (trouble,) = read_column(["11.3 O"], Axis.LONGITUDE, mixed).troubles
    assert trouble[1].code == "ambiguous-letter" and "--letter-o east" in trouble[1].message


def test_numbers_joined_by_commas_in_a_column_are_refused_with_the_options() -> None:
    texts = ["48,30,11,30", "48,3512,11,3034"]
    with pytest.raises(InputError) as refused:
        decide_pairs(texts)
    assert refused.value.code == "ambiguous-notation"
    assert refused.value.details["ways"] == [["--notation", "decimal-degrees"], ["--notation", "degrees-minutes"]]
    decimal = read_pairs(texts, decide_pairs(texts, wanted=Notation.DECIMAL))
    assert [pair.latitude_e7 for pair in decimal.pairs] == [483_000_000, 483_512_000]
    minutes = read_pairs(texts[:1], decide_pairs(texts[:1], wanted=Notation.MINUTES))
    assert minutes.pairs[0].latitude_e7 == 485_000_000


def test_numbers_that_no_notation_parts_stay_a_trouble_of_their_row() -> None:
    column = read_pairs(["51,0,5"], decide_pairs(["51,0,5"]))
    assert [(i, t.code) for i, t in column.troubles] == [(0, "ambiguous-position")]


def test_fast_and_full_reading_agree() -> None:
    texts = ["47.26", "+47.26", "47,26", "90", "-90.0", "91", "47.26N", "x", ""]
    whole = read_column(texts, Axis.LATITUDE, Decision(Notation.DECIMAL))
    for i, text in enumerate(texts):
        alone = read_column([text], Axis.LATITUDE, Decision(Notation.DECIMAL))
        assert alone.values_e7[0] == whole.values_e7[i]
        assert bool(alone.troubles) == (i in {at for at, _ in whole.troubles})


def test_one_column_may_hold_both_coordinates() -> None:
    for texts, notation in [
        (["47.26, 11.34"], Notation.DECIMAL),
        (["N47°15.6' E011°20.4'"], Notation.MINUTES),
        (["471536N0112024E"], Notation.PACKED_SECONDS),
        (["geo:47.26,11.34"], Notation.GEO_URI),
        (["+47.26+011.34/"], Notation.ISO6709),
    ]:
        decision = decide_pairs(texts)
        column = read_pairs(texts, decision)
        assert decision.notation is notation
        assert (column.pairs[0].latitude_e7, column.pairs[0].longitude_e7) == (472_600_000, 113_400_000)
        assert column.troubles == []


def test_troubles_of_a_joint_column_are_told_row_by_row() -> None:
    column = read_pairs(["47.26,11.34", "", "47.26,191", "nothing"], Decision(Notation.DECIMAL))
    assert [(i, t.code) for i, t in column.troubles] == [(1, "missing-value"), (2, "out-of-range"), (3, "bad-position")]
