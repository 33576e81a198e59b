"""What people read of the areas of proposals: what suits, what does not and for whom, and why fewer are shown."""

from __future__ import annotations

import pytest

from taskdb.core.proposing.words import chosen_words, sized_words, tried_words
from taskdb.core.quantities import Units


def test_fewer_than_asked_for_are_told_to_be_those_that_areas_suit_or_that_differ() -> None:
    chosen = (3, 1034, 20_000.0, Units.KM)
    assert "areas suit no other" in chosen_words(*chosen, is_fewer=True, is_fitted=True)
    assert "no other lies 20 km" in chosen_words(*chosen, is_fewer=True, is_fitted=False)
    assert chosen_words(*chosen, is_fewer=False, is_fitted=True).startswith("The best 3 of 1,034")


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((4, 0, 0, None), "Areas suit all of the 4 best that were tried."),
        ((9, 0, 6, 9000.0), "Areas tried on the 9 best that differ: 6 too short for the fastest, however large. "
                            "--time 2:30 would suit the best of these."),
        ((9, 2, 5, None), "Areas tried on the 9 best that differ: 2 too long for the slowest, 5 too short for the "
                          "fastest, however large."),
    ],
)  # fmt: skip
def test_it_is_said_for_whom_no_areas_suit_and_what_time_would(counts, said) -> None:
    assert tried_words(*counts) == said


def test_a_radius_is_told_in_the_unit_of_its_step() -> None:
    assert (sized_words("12km"), sized_words("1.5nmi")) == ("areas of 12 km", "areas of 1.5 nmi")
