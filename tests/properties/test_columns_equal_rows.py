"""Waypoints in columns are what they are one by one: folded, kept, read again, compared, found by their words."""

from __future__ import annotations

import json
from dataclasses import replace
from unittest.mock import patch

import pytest
from hypothesis import example, given, settings, strategies as st

from taskdb.core.kinds import Feature, Landable
from taskdb.core.model import Position, Radio, Runway, Typed, Waypoint
from taskdb.core.names import clean_all, clean_text, fold, fold_all, fold_german
from taskdb.core.waypoint_columns import VALUE_COLUMNS, TypedColumns, WaypointColumns
from taskdb.formats.text.columns import Column
from taskdb.formats.text.intake import Records, unit_in
from taskdb.store import word_index
from taskdb.store.rows import READ_COLUMNS, STATE_COLUMNS, columns_of, state_columns, waypoint_of
from taskdb.store.word_index import WordIndex

NASTY = st.text(
    st.sampled_from(" \t\n\r\x1c\x85\xa0\u2003\u2028_-.'\"\\aAbZ09äÖßẞøÅłıİΣςéﬁ½Жё中\u0308\u0301"), max_size=12
)
TEXTS = NASTY | st.text(max_size=12)
MAYBE = st.none() | TEXTS.filter(bool)


@st.composite
def waypoints(draw: st.DrawFn) -> Waypoint:
    return Waypoint(
        code=draw(TEXTS),
        name=draw(TEXTS),
        position=Position.from_e7(
            draw(st.integers(-900_000_000, 900_000_000)), draw(st.integers(-1_800_000_000, 1_799_999_999))
        ),
        elevation_m=draw(st.none() | st.integers(-5000, 90_000).map(lambda dm: dm / 10)),
        landable=draw(st.none() | st.sampled_from(Landable)),
        feature=draw(st.none() | st.sampled_from(Feature)),
        country=draw(MAYBE),
        radio=draw(st.lists(st.builds(Radio, TEXTS, MAYBE), max_size=2).map(tuple)),
        runways=draw(st.lists(st.builds(Runway, MAYBE, st.none() | st.floats(0, 359.9)), max_size=2).map(tuple)),
        description=draw(MAYBE),
        source=draw(MAYBE),
        inspected_on=draw(st.none() | st.just("2027-05-14")),
        identity=draw(st.uuids()).hex,
        typed=draw(st.none() | st.builds(Typed, MAYBE, MAYBE, MAYBE, st.none() | st.integers(0, 9), MAYBE, MAYBE)),
        extras=draw(st.none() | st.just('{"gpx":{}}')),
    )


def everything(waypoint: Waypoint) -> tuple[object, ...]:
    """A waypoint with what its equality leaves out."""
    return waypoint, waypoint.typed, waypoint.extras


def kept_rows(columns: WaypointColumns, identities: list[str]) -> list[dict[str, object]]:
    made = dict(zip(STATE_COLUMNS, state_columns(columns, identities), strict=True))
    return [{name: None if column is None else column[i] for name, column in made.items()} for i in range(len(columns))]


@settings(max_examples=1000)
@example(["0\x85\x850"])
@given(st.lists(TEXTS, max_size=8))
def test_texts_folded_together_are_what_each_folds_to(texts: list[str]) -> None:
    assert fold_all(texts) == [fold(text) for text in texts]


@given(st.lists(TEXTS, max_size=8))
def test_texts_cleaned_together_are_what_each_is_cleaned_to(texts: list[str]) -> None:
    assert clean_all(texts) == [clean_text(text) for text in texts]


@given(st.lists(st.tuples(TEXTS, TEXTS), max_size=6))
def test_the_words_of_many_states_are_those_of_each(named: list[tuple[str, str]]) -> None:
    index = WordIndex()
    names, codes = [name for name, _ in named], [code for _, code in named]
    index.add(range(5, 5 + len(named)), names, codes)
    wanted = set()
    for number, (name, code) in enumerate(named, start=5):
        words = {*fold(name).split(), *fold_german(name).split()}
        if len(fold(code).split()) > 1:
            words |= set(fold(code).split())
        wanted |= {(word, number) for word in words}
    assert list(index.pairs()) == sorted(wanted)
    with patch.object(word_index, "_MANY", 1):
        assert list(index.pairs()) == sorted(wanted)


@given(st.lists(waypoints(), min_size=1, max_size=6))
def test_what_is_kept_of_many_is_what_is_kept_of_each(some: list[Waypoint]) -> None:
    identities = [str(waypoint.identity) for waypoint in some]
    rows = kept_rows(WaypointColumns.of(some), identities)
    alone = [kept_rows(WaypointColumns.of([waypoint]), [str(waypoint.identity)])[0] for waypoint in some]
    assert rows == alone


@given(st.lists(waypoints(), min_size=1, max_size=6))
def test_what_is_kept_reads_back_as_it_was_one_by_one_and_in_columns(some: list[Waypoint]) -> None:
    rows = kept_rows(WaypointColumns.of(some), [str(waypoint.identity) for waypoint in some])
    read = [tuple(row[name] for name in READ_COLUMNS) for row in rows]
    wanted = [everything(waypoint) for waypoint in some]
    assert [everything(waypoint_of(row)) for row in read] == wanted
    assert [everything(waypoint) for waypoint in columns_of(read).waypoints()] == wanted
    for row, waypoint in zip(rows, some, strict=True):
        assert (row["code_folded"], row["name_folded"]) == (fold(waypoint.code), fold(waypoint.name))


COORDINATES = st.sampled_from(["51°30'00\"N", "45 12.345N", "45.5", "a\\b", "32U 5\xa0", "\x7f", ""]) | TEXTS


@given(st.lists(st.tuples(COORDINATES, COORDINATES, st.integers(0, 9), MAYBE, MAYBE), min_size=1, max_size=6), MAYBE)
def test_what_was_typed_is_kept_alike_from_columns_and_one_by_one(
    cells: list[tuple[str, str, int, str | None, str | None]], notation: str | None
) -> None:
    latitudes, longitudes, decimals, elevations, units = (list(column) for column in zip(*cells, strict=True))
    coordinates = [f"{a}\t{b}" for a, b in zip(latitudes, longitudes, strict=True)]
    typed = TypedColumns(coordinates, notation, decimals, elevations, units)
    for one in (typed, TypedColumns(coordinates, notation, decimals)):
        columns = WaypointColumns(coordinates, coordinates, decimals, decimals, typed=one)
        kept = [row["typed"] for row in kept_rows(columns, coordinates)]
        values = ((t.latitude, t.longitude, t.notation, t.decimals, t.elevation, t.elevation_unit) for t in one if t)
        assert kept == [json.dumps(value, ensure_ascii=False, separators=(",", ":")) for value in values]


@st.composite
def records(draw: st.DrawFn) -> Records:
    some = draw(st.lists(waypoints(), min_size=1, max_size=6))
    names = draw(st.sets(st.sampled_from(VALUE_COLUMNS)))
    made = Records(frozenset({"code", "name", "position", *names}), "minutes", draw(st.sampled_from([None, "m", "ft"])))
    for line, waypoint in enumerate(some):
        made.lines.append(line)
        made.codes.append(waypoint.code)
        made.names.append(waypoint.name)
        made.latitudes_e7.append(waypoint.position.latitude_e7)
        made.longitudes_e7.append(waypoint.position.longitude_e7)
        made.decimals.append(draw(st.integers(0, 9)))
        made.coordinates.append(draw(st.sampled_from(["45 12.345N\t008 12.345E", "32U\t", "45\t8"])))
    for name in names:
        made.values.setdefault(name, Column()).extend([getattr(waypoint, name) for waypoint in some])
    if draw(st.booleans()):
        made.elevations.extend([draw(st.sampled_from([None, "512", "512m", "1680 ft"])) for _ in some])
    return made


@given(records())
def test_rows_of_a_file_are_alike_in_columns_and_one_by_one(read: Records) -> None:
    numbers = list(range(len(read)))
    alone = [read[i] for i in numbers]
    assert alone == list(read) == list(read.some(numbers))
    (columns,) = read.columns(numbers)
    assert [everything(w) for w in columns.waypoints()] == [everything(record.waypoint) for record in alone]
    for i, record in enumerate(alone):
        typed = record.waypoint.typed
        assert typed is not None
        latitude, longitude = read.coordinates[i].split("\t")
        assert (typed.latitude, typed.longitude, typed.decimals) == (latitude, longitude or None, read.decimals[i])
        elevation = read.elevations[i] if read.elevations else None
        unit = None if elevation is None else unit_in(elevation) or read.elevation_unit
        assert (typed.elevation, typed.elevation_unit) == (elevation, unit)
        assert all(getattr(record.waypoint, name) == column[i] for name, column in read.values.items())


@pytest.mark.slow
@settings(max_examples=300)
@given(records(), st.data())
def test_a_row_gives_what_stands_where_all_that_it_gives_is_equal(read: Records, data: st.DataObject) -> None:
    standing = []
    for record in read:
        other = data.draw(waypoints())
        changed = data.draw(st.sets(st.sampled_from(("name", "position", *VALUE_COLUMNS)), max_size=2))
        standing.append(replace(record.waypoint, **{name: getattr(other, name) for name in changed}))
    rows = [data.draw(st.none() | st.integers(0, len(read) - 1)) for _ in standing]
    fields = [name for name in ("name", "position", *read.values) if name != "extras"]
    wanted = [
        i is not None and all(getattr(read[i].waypoint, name) == getattr(waypoint, name) for name in fields)
        for i, waypoint in zip(rows, standing, strict=True)
    ]
    assert read.give(rows, WaypointColumns.of(standing)) == wanted
    rows_kept = kept_rows(WaypointColumns.of(standing), ["id"] * len(standing))
    kept = columns_of([tuple(row[name] for name in READ_COLUMNS) for row in rows_kept])
    assert read.give(rows, kept) == wanted


def test_what_was_typed_may_lack_its_decimals_alone() -> None:
    typed = Typed("45", "8", "decimal-degrees", None, "512", "m")
    (kept,) = kept_rows(WaypointColumns.of([Waypoint("A", "", Position.at(45, 8), typed=typed)]), ["id"])
    assert waypoint_of([kept[name] for name in READ_COLUMNS]).typed == typed
