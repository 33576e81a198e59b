"""Columns of coordinates read by their places with numpy give what reading them one after the other gives."""

from __future__ import annotations

import random

import pytest

from taskdb.core.names import fold, fold_all
from taskdb.core.notation import Axis, Decision, Notation, read_column

FORMS = [
    ("{d:0{w}d} {m:06.3f}{s}", Notation.MINUTES),
    ("{s}{d:0{w}d}°{m:05.2f}′", Notation.MINUTES),
    ("{d:0{w}d}°{i:02d}'{m:04.1f}\"{s}", Notation.SECONDS),
    ("{s} {d:0{w}d}:{i:02d}:{i:02d}", Notation.SECONDS),
    ("{d:0{w}d}{m:09.6f}{s}", Notation.PACKED_MINUTES),
    ("{d:0{w}d}{i:02d}{i:02d}{s}", Notation.PACKED_SECONDS),
]


@pytest.mark.parametrize("axis", list(Axis))
@pytest.mark.parametrize(("form", "notation"), FORMS)
def test_by_place_as_one_by_one(form: str, notation: Notation, axis: Axis) -> None:
    source = random.Random(form)
    width, degrees = (2, 90) if axis is Axis.LATITUDE else (3, 180)
    texts = [
        form.format(
            d=source.randrange(degrees),
            m=source.choice((source.uniform(0, 59.9), float(source.randrange(60)))),
            i=source.randrange(60),
            s=source.choice(axis.letters[:2]),
            w=width,
        )
        for _ in range(2000)
    ]
    decision = Decision(notation)
    assert read_column(texts, axis, decision, among_many=True) == read_column(texts, axis, decision)
    commas = [text.replace(".", ",") for text in texts]
    assert read_column(commas, axis, decision, among_many=True) == read_column(texts, axis, decision)
    # One beyond the limit, one without a shape: both ways look at each cell by itself.
    for other in (form.format(d=degrees, m=30.0, i=30, s=axis.letters[0], w=width), "", "x"):
        several = [*texts[:50], other]
        assert read_column(several, axis, decision, among_many=True) == read_column(several, axis, decision)


def test_every_marked_letter_folds_in_a_column_as_by_itself() -> None:
    for number in range(0xA0, 0x250):
        texts = [f"a{chr(number)}b", chr(number), f"x {chr(number)}\u0308y", f"{chr(number).upper()} Z"]
        assert fold_all(texts) == [fold(text) for text in texts], hex(number)
