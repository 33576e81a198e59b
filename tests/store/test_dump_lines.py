"""A dump's lines: what is refused, with the number of the line, and that nothing of a bad dump is kept."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable

import pytest
from sqlalchemy import text

from taskdb.core.model import Waypoint
from taskdb.errors import InputError, RefusedError, TaskdbError
from taskdb.store import schema
from taskdb.store.dump import FORM, TABLES, dump_lines, load_lines
from taskdb.store.engine import NewOperation, Store, open_store
from taskdb.store.verifying import checksum_problems

OPERATION = NewOperation("2027-05-14T08:30:00Z", "Ann", "test", note='first\u2028line "ä"')


@pytest.fixture
def lines(tmp_path, sample: tuple[Waypoint, ...]) -> list[bytes]:
    """The dump of a store with one set of five waypoints."""
    from taskdb.core.history.changes import SetChanges
    from taskdb.store import sets

    source = open_store(str(tmp_path / "source.db"))
    with source.writing(OPERATION) as w:
        head = sets.create_set(w, "Wold")
        sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(added=sample))
    return dumped(source)


def dumped(store: Store) -> list[bytes]:
    with store.reading() as c:
        return list(dump_lines(c))


def load(store: Store, lines: Iterable[bytes]) -> int:
    with store.filling() as c:
        return load_lines(c, lines, name="x.jsonl")


def refused(store: Store, lines: Iterable[bytes]) -> TaskdbError:
    with pytest.raises(InputError) as caught:
        load(store, lines)
    with store.reading() as c:
        assert c.scalar(text("SELECT count(*) FROM operation")) == 0
    assert "nothing was loaded" in caught.value.message
    assert caught.value.hint
    return caught.value


def unsigned(lines: list[bytes]) -> list[bytes]:
    """Return the lines without their checksum, as somebody does who changes a dump on purpose."""
    last = json.loads(lines[-1])
    del last["sha256"]
    return [*lines[:-1], json.dumps(last).encode() + b"\n"]


def changed(lines: list[bytes], table: str, change: Callable[[dict[str, object]], object], row: int = 0) -> list[bytes]:
    """Return the lines with a row of a table changed by column, and without the checksum."""
    start = next(i for i, line in enumerate(lines) if b'"table":"%s"' % table.encode() in line)
    columns = json.loads(lines[start])["columns"]
    values = dict(zip(columns, json.loads(lines[start + 1 + row]), strict=True))
    change(values)
    result = list(unsigned(lines))
    result[start + 1 + row] = json.dumps(list(values.values())).encode() + b"\n"
    return result


def test_a_dump_has_every_table_but_the_derived_one_in_an_order_that_can_be_loaded() -> None:
    assert set(TABLES) | {"waypoint_word"} == set(schema.metadata.tables)
    for number, name in enumerate(TABLES):
        for key in schema.metadata.tables[name].foreign_keys:
            assert key.column.table.name in TABLES[: number + 1]


def test_dumping_what_was_loaded_gives_the_same_bytes_and_search_works(store: Store, lines: list[bytes]) -> None:
    assert load(store, lines) == len([line for line in lines if line.startswith(b"[")])
    assert dumped(store) == lines
    with store.reading() as c:
        words = c.execute(
            text("SELECT word, state_id FROM waypoint_word WHERE word = 'strasse' OR word = 'linde'")
        ).all()
    assert words == [("linde", 4)]


def test_a_line_separator_in_a_text_ends_no_line(lines: list[bytes]) -> None:
    # U+2028 is a line end to str.splitlines, not to a file.
    (row,) = [line for line in lines if b"first\xe2" in line]
    assert json.loads(row)[4] == OPERATION.note
    assert all(line.count(b"\n") == 1 and line.endswith(b"\n") for line in lines)


def test_later_writes_continue_the_numbers(store: Store, lines: list[bytes]) -> None:
    load(store, lines)
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        assert w.operation_id == 2
        insert = "INSERT INTO waypoint_set (name, newest, operation_id) VALUES ('Vale', 0, 2) RETURNING id"
        assert w.connection.scalar(text(insert)) == 2


def test_a_store_that_holds_anything_is_refused(store: Store, lines: list[bytes]) -> None:
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    with pytest.raises(RefusedError) as caught:
        load(store, lines)
    assert caught.value.code == "store-not-empty"


def test_a_preview_of_a_load_keeps_nothing(store: Store, lines: list[bytes]) -> None:
    with store.filling(preview=True) as c:
        load_lines(c, lines, name="x.jsonl")
    with store.reading() as c:
        assert c.scalar(text("SELECT count(*) FROM operation")) == 0


def test_a_dump_cut_off_anywhere_is_refused(store: Store, lines: list[bytes]) -> None:
    for count in range(len(lines)):
        error = refused(store, lines[:count])
        assert error.details["line"] == count + 1
        assert "is missing" in error.message
    half = [*lines[:3], lines[3][: len(lines[3]) // 2]]
    assert refused(store, half).details["line"] == 4


def test_one_changed_byte_is_refused_by_the_checksum(store: Store, lines: list[bytes]) -> None:
    altered = [line.replace(b"Ormsau", b"Ormsav") for line in lines]
    error = refused(store, altered)
    assert "checksum" in error.message
    assert load(store, unsigned(altered)) > 0


def test_who_takes_the_checksum_out_vouches_for_what_he_changed(store: Store, lines: list[bytes]) -> None:
    load(store, changed(lines, "operation", lambda row: row.update(author="Bob")))
    with store.reading() as c:
        assert list(checksum_problems(c)) == []
    with store.engine.begin() as c:
        c.execute(text("UPDATE operation SET author = 'Eve'"))
    with store.reading() as c:
        assert [one.what for one in checksum_problems(c)] == ["operation 1"]


def test_what_follows_the_end_is_refused(store: Store, lines: list[bytes]) -> None:
    assert refused(store, [*lines, b"[1]\n"]).details["line"] == len(lines) + 1


@pytest.mark.parametrize(
    ("first", "code"),
    [
        (b"code,name\n", "not-a-dump"),
        (b"{}\n", "not-a-dump"),
        (b"[]\n", "not-a-dump"),
        (b"\xff\xfe\n", "not-a-dump"),
        (b'{"dump":"taskdb.dump/9","schema":"0001"}\n', "other-dump"),
        (b'{"dump":"%s","schema":"9999"}\n' % FORM.encode(), "other-schema"),
        (b"[" * 100_000 + b"\n", "not-a-dump"),
    ],
)
def test_another_file_and_another_form_are_refused(store: Store, lines: list[bytes], first: bytes, code: str) -> None:
    assert refused(store, [first, *lines[1:]]).code == code


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("operation", "author", None),
        ("operation", "author", 5),
        ("operation", "author", "a\0b"),
        ("operation", "author", "\ud800"),
        ("operation", "id", "1"),
        ("operation", "id", 1.5),
        ("operation", "id", True),
        ("operation", "id", 2**63),
        ("waypoint_state", "latitude_e7", 2**31),
        ("waypoint_state", "latitude_e7", 900_000_001),
        ("waypoint_state", "valid_from", 7),
        ("waypoint_state", "set_id", 9),
        ("waypoint_state", "code", "002"),
        ("waypoint_state", "id", 2),
        ("set_revision", "operation_id", 5),
    ],
)
def test_a_value_that_cannot_stand_is_refused_with_its_line(
    store: Store, lines: list[bytes], table: str, column: str, value: object
) -> None:
    bad = changed(lines, table, lambda row: row.update({column: value}))
    error = refused(store, bad)
    start = next(i for i, line in enumerate(lines) if b'"table":"%s"' % table.encode() in line)
    # A number that is there twice is refused at the second of the two.
    assert error.details["line"] in ({start + 3} if value in (2, "002") else {start + 2})
    assert table in error.message


def test_a_row_with_too_few_values_and_a_table_out_of_order_are_refused(store: Store, lines: list[bytes]) -> None:
    assert "has 2 values" in refused(store, [*lines[:2], b"[1,2]\n", *lines[3:]]).message
    assert "a row of operation has 7" in refused(store, [*lines[:3], *lines[4:]]).message


def test_numbers_that_json_does_not_have_are_refused(store: Store, lines: list[bytes]) -> None:
    assert refused(store, [*lines[:2], b'[NaN,"a","b","c",null,null]\n', *lines[3:]]).details["line"] == 3
