"""Verifying finds each rule of the store broken by hand, and nothing in a store that is whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlalchemy import text

from taskdb.core.model import Waypoint
from taskdb.store.engine import NewOperation, Store
from taskdb.store.verifying import file_problems, rule_problems

WORD = "INSERT INTO waypoint_word (word, state_id) VALUES"
OPERATION = NewOperation("2027-05-14T08:30:00Z", "Ann", "test")


@pytest.fixture
def region(write: Callable[..., int], sample: tuple[Waypoint, ...]) -> None:
    """A set of three revisions with a change, a retirement and an addition."""
    write("Wold", added=sample)
    changed = replace(sample[1], name="Kelmried Süd")
    write("Wold", changed=[(sample[1], changed)], retired=[sample[2]])
    write("Wold", added=[sample[2]])


def problems(store: Store) -> list[tuple[str, str]]:
    with store.reading() as c:
        return [(one.rule, f"{one.what}: {one.message}") for one in (*file_problems(c), *rule_problems(c))]


def broken(store: Store, *statements: str) -> list[tuple[str, str]]:
    with store.writing(OPERATION) as w:
        for statement in statements:
            w.connection.execute(text(statement))
    return problems(store)


def test_a_store_that_was_only_written_by_its_own_means_is_whole(store: Store, region: None) -> None:
    assert problems(store) == []


def test_an_empty_store_is_whole(store: Store) -> None:
    assert problems(store) == []


@pytest.mark.parametrize(
    ("rule", "where", "statements"),
    [
        ("set-counts", "Wold@2: says 9 waypoints, 4 stand", ["UPDATE set_revision SET count = 9 WHERE number = 2"]),
        ("set-counts", "Wold@2: says 1 added", ["UPDATE set_revision SET added = 1 WHERE number = 2"]),
        ("newest-number", "Wold: says 7", ["UPDATE waypoint_set SET newest = 7"]),
        ("search-words", "lacks the words ['ormsau']", ["DELETE FROM waypoint_word WHERE word = 'ormsau'"]),
        ("search-words", "has ['quarry'] too many", [f"{WORD} ('quarry', 1)"]),
        ("search-words", "state 999: has search words", [f"{WORD} ('a', 999)"]),
        ("folded", "001", ["UPDATE waypoint_state SET name_folded = 'other' WHERE code = '001'"]),
        ("state-readable", "001", ["UPDATE waypoint_state SET runways = '[[' WHERE code = '001'"]),
        ("state-readable", "002", ["UPDATE waypoint_state SET feature = 'volcano' WHERE code = '002'"]),
        (
            "states-overlap",
            "from revision 1 to 3 overlaps the next one, from 2",
            ["UPDATE waypoint_state SET valid_to = 3 WHERE code = '002' AND valid_from = 1"],
        ),
        (
            "code-unique",
            "2 open waypoints have code 001",
            ["DROP INDEX uq_waypoint_state_open_code", "UPDATE waypoint_state SET code = '001' WHERE code = 'A1'"],
        ),
    ],
)  # fmt: skip
def test_a_broken_rule_is_found_and_its_place_is_named(
    store: Store, region: None, rule: str, where: str, statements: list[str]
) -> None:
    found = broken(store, *statements)
    assert [text for name, text in found if name == rule and where in text], found


def test_a_state_that_ends_at_a_revision_that_is_not_there_is_found(store: Store, region: None) -> None:
    found = broken(store, "UPDATE waypoint_state SET valid_to = 8 WHERE code = '001'")
    assert ("set-counts", "set Wold: states name revision 8, not there") in found


def test_a_reference_to_a_row_that_is_gone_is_found_on_sqlite(store: Store, region: None) -> None:
    if not store.is_sqlite:
        pytest.skip("PostgreSQL does not let it happen")
    with store.upgrading() as c:  # where references are not enforced
        assert c is not None
        c.execute(text("DELETE FROM operation WHERE id = 2"))
    assert {rule for rule, _ in problems(store)} == {"reference"}
