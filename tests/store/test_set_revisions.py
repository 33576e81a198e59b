"""Sets in the store: every revision stays readable as it was, on both engines, in the same order."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from taskdb.core.history.changes import SetChanges, diff
from taskdb.core.model import Position, Typed, Waypoint
from taskdb.store import bulk, sets
from taskdb.store.engine import NewOperation, Store
from taskdb.store.word_index import words_of

OPERATION = NewOperation("2027-05-14T08:30:00Z", "Ann", "test", note="spring")

Write = Callable[..., int]


def at(store: Store, name: str, number: int) -> list[Waypoint]:
    with store.reading() as c:
        head = sets.find_set(c, name)
        assert head is not None
        return sets.waypoints_at(c, head.id, number)


def words_match_open_states(store: Store) -> bool:
    """Whether the words kept are exactly those of the states that stand."""
    with store.reading() as c:
        kept = sorted(tuple(row) for row in c.execute(text("SELECT word, state_id FROM waypoint_word")))
        rows = c.execute(text("SELECT id, code, name FROM waypoint_state WHERE valid_to IS NULL"))
        return kept == sorted((word, row[0]) for row in rows for word in words_of(row[2], row[1]))


def region(count: int, seed: int = 1) -> list[Waypoint]:
    source = random.Random(seed)
    return [
        Waypoint(
            f"{i:05d}", f"Place {i % 97} Nord", Position.at(source.uniform(47, 50), source.uniform(8, 13)),
            identity=f"{source.getrandbits(64):016x}",
        )
        for i in range(count)
    ]  # fmt: skip


def test_every_field_comes_back_as_it_was_given(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    assert write("Wold", added=sample) == 1
    got = at(store, "Wold", 1)
    assert got == sorted(sample, key=lambda w: w.code)
    by_code = {w.code: w for w in sample}
    assert [(w.typed, w.extras) for w in got] == [(by_code[w.code].typed, by_code[w.code].extras) for w in got]


def test_waypoints_come_in_code_point_order(store: Store, write: Write) -> None:
    codes = ["b", "B", "a1", "Ä", "é", "10", "2", "_", "Z", "\U0001f6e9", "ﬀ", "a"]
    write("Wold", added=[Waypoint(code, "x", Position.at(48, 11), identity=code) for code in codes])
    assert [w.code for w in at(store, "Wold", 1)] == sorted(codes)


def test_earlier_revisions_stay_as_they_were(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    first = {w.code: w for w in sample}
    write("Wold", added=sample)
    moved = replace(first["002"], position=Position.at(48.6, 11.6), typed=Typed("48.6", "11.6"))
    write("Wold", changed=[(first["002"], moved)], retired=[first["003"]])
    back = replace(first["003"], name="Tannwöhr again")
    write("Wold", added=[back])
    assert at(store, "Wold", 1) == sorted(sample, key=lambda w: w.code)
    assert [w.code for w in at(store, "Wold", 2)] == ["001", "002", "004", "A1"]
    assert [w.name for w in at(store, "Wold", 3)] == [
        "Ormsau",
        "Kelmried",
        "Tannwöhr again",
        "Große Linde",
        "Brüxfeld Süd",
    ]
    assert words_match_open_states(store)


def test_codes_can_be_swapped_and_passed_round(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    write("Wold", added=sample)
    a, b, c = sample[:3]
    turned = [(a, replace(a, code=b.code)), (b, replace(b, code=c.code)), (c, replace(c, code=a.code))]
    write("Wold", changed=turned)
    names = {w.code: w.name for w in at(store, "Wold", 2)}
    assert (names["001"], names["002"], names["003"]) == ("Tannwöhr", "Ormsau", "Kelmried")


def test_a_code_stands_once_in_a_set(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    write("Wold", added=sample)
    with pytest.raises(IntegrityError):
        write("Wold", added=[replace(sample[0], identity="another")])
    assert write("Other", added=sample) == 1
    with store.reading() as c:
        assert [(s.name, s.revision, s.count) for s in sets.list_sets(c)] == [("Other", 1, 5), ("Wold", 1, 5)]


def test_changing_what_does_not_stand_is_refused(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    write("Wold", added=sample[:2])
    with pytest.raises(ValueError, match="does not stand"):
        write("Wold", retired=[sample[4]])
    with pytest.raises(ValueError, match="no identity"):
        write("Wold", added=[replace(sample[4], identity=None)])
    with store.reading() as c:
        assert sets.list_sets(c)[0].revision == 1


def test_a_revision_says_what_it_did(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    write("Wold", added=sample)
    write("Wold", changed=[(sample[0], replace(sample[0], name="Ormsau West"))], retired=sample[3:], added=())
    with store.reading() as c:
        head = sets.find_set(c, "Wold")
        assert head is not None
        log = sets.set_log(c, head.id)
        assert [(i.number, i.count, i.added, i.changed, i.retired) for i in log] == [(2, 3, 0, 1, 2), (1, 5, 5, 0, 0)]
        assert sets.revision_info(c, head.id, 2) == log[0]
        assert sets.revision_info(c, head.id, 3) is None
        assert (log[0].author, log[0].at) == ("Ann", "2027-05-14T08:30:00Z")


def test_the_newest_label_counts_and_can_be_taken_away(
    store: Store, write: Write, sample: tuple[Waypoint, ...]
) -> None:
    write("Wold", added=sample)

    def label(value: str | None, valid_from: str | None = None) -> tuple[str | None, str | None]:
        with store.writing(OPERATION) as w:
            head = sets.find_set(w.connection, "Wold")
            assert head is not None
            sets.set_label(w, head.id, 1, value, valid_from)
        with store.reading() as c:
            info = sets.revision_info(c, head.id, 1)
            assert info is not None
            assert sets.list_sets(c)[0].label == info.label
            return info.label, info.valid_from

    assert label("2027 edition", "2027-03-01") == ("2027 edition", "2027-03-01")
    assert label("2027 edition, corrected") == ("2027 edition, corrected", None)
    assert label(None) == (None, None)


def test_one_waypoint_is_found_by_code_and_by_identity(
    store: Store, write: Write, sample: tuple[Waypoint, ...]
) -> None:
    write("Wold", added=sample)
    write("Wold", changed=[(sample[0], replace(sample[0], code="X"))])
    with store.reading() as c:
        head = sets.find_set(c, "Wold")
        assert head is not None
        assert sets.waypoint_at(c, head.id, 1, "001") == sample[0]
        assert sets.waypoint_at(c, head.id, 2, "001") is None
        many = [*(f"none{i}" for i in range(1_200)), "id-001", "id-002"]
        found = sets.waypoints_with_identities(c, head.id, 2, many)
        assert {identity: w.code for identity, w in found.items()} == {"id-001": "X", "id-002": "002"}
        history = sets.waypoint_history(c, head.id, "id-001")
        assert [(start, end, w.code) for start, end, w in history] == [(1, 2, "001"), (2, None, "X")]


def test_what_changed_between_two_revisions_is_found_without_reading_all(store: Store, write: Write) -> None:
    source = random.Random(3)
    state = {w.identity: w for w in region(60)}
    write("Wold", added=list(state.values()))
    snapshots = {1: list(state.values())}
    spare = iter(region(200, seed=9))
    for number in range(2, 9):
        standing = list(state.values())
        source.shuffle(standing)
        retired, changing = standing[:3], standing[3:9]
        changed = [(w, replace(w, name=f"{w.name} {number % 2}")) for w in changing]
        added = [replace(next(spare), code=f"N{number}{i}") for i in range(2)]
        assert write("Wold", added=added, changed=changed, retired=retired) == number
        for w in retired:
            del state[w.identity]
        state.update({w.identity: w for w in (*added, *(new for _, new in changed))})
        snapshots[number] = list(state.values())
    with store.reading() as c:
        for first in snapshots:
            for second in snapshots:
                halves = sets.touched_between(c, 1, first, second)
                assert diff(*halves) == diff(snapshots[first], snapshots[second])
    assert words_match_open_states(store)


@pytest.mark.parametrize("as_iterator", [False, True])
def test_a_large_load_is_the_same_as_many_small_ones(
    store: Store, write: Write, monkeypatch: pytest.MonkeyPatch, as_iterator: bool
) -> None:
    monkeypatch.setattr(bulk, "BATCH", 500)
    monkeypatch.setattr(bulk, "_LOAD_FROM", 1_000)
    before = schema_of(store, write)
    many = region(2_300)
    write("Large", added=iter(many) if as_iterator else many)
    assert at(store, "Large", 1) == many
    assert words_match_open_states(store)
    write("Large", changed=[(w, replace(w, name="Renamed")) for w in many])
    assert {w.name for w in at(store, "Large", 2)} == {"Renamed"}
    assert at(store, "Large", 1) == many
    assert words_match_open_states(store)
    assert schema_of(store, write) == before


def schema_of(store: Store, write: Write) -> list[str]:
    """The indexes of the states: a load takes them away and must bring each back."""
    with store.writing(OPERATION) as w:
        sqlite = w.connection.dialect.name == "sqlite"
        query = "SELECT sql FROM sqlite_master WHERE type = 'index'" if sqlite else "SELECT indexdef FROM pg_indexes"
        found = sorted(str(row[0]) for row in w.connection.execute(text(query)))
        w.abandon()
    assert any("uq_waypoint_state_open_code" in sql for sql in found)
    return found


def test_a_failed_load_leaves_tables_and_indexes_as_they_were(store: Store, write: Write) -> None:
    write("Small", added=region(3))
    before = schema_of(store, write)

    def breaking() -> object:
        yield from region(7_000)
        raise KeyError("broken off")

    with pytest.raises(KeyError), store.writing(OPERATION) as w:
        head = sets.create_set(w, "Large")
        sets.write_revision(w, head, SetChanges(added=breaking()))  # type: ignore[arg-type]
    assert schema_of(store, write) == before
    with store.reading() as c:
        assert [s.name for s in sets.list_sets(c)] == ["Small"]
        assert c.scalar(text("SELECT count(*) FROM waypoint_state")) == 3


def test_words_can_be_made_anew(store: Store, write: Write, sample: tuple[Waypoint, ...]) -> None:
    write("Wold", added=sample)
    write("Wold", retired=sample[:1])
    with store.writing(OPERATION) as w:
        w.connection.execute(text("DELETE FROM waypoint_word"))
        bulk.remake_words(w.connection)
    assert words_match_open_states(store)


def test_a_dropped_duplicate_leads_to_the_one_that_was_kept_last(
    store: Store, write: Write, sample: tuple[Waypoint, ...]
) -> None:
    write("Wold", added=sample)
    with store.writing(OPERATION) as w:
        sets.add_successor(w, 1, dropped="a", kept="b", from_revision=2)
        sets.add_successor(w, 1, dropped="b", kept="c", from_revision=3)
    with store.reading() as c:
        assert sets.successors(c, 1, 1) == {}
        assert sets.successors(c, 1, 2) == {"a": "b"}
        assert sets.successors(c, 1, 3) == {"a": "c", "b": "c"}
