"""Sessions on a server: left as they were found, which poolers need, and told where they take no writes."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from taskdb.errors import StoreUnusableError
from taskdb.store.engine import open_store
from tests.conftest import SERVER, new_database
from tests.servers.sessions import nothing_left_in_sessions
from tests.store.conftest import operation

pytestmark = pytest.mark.skipif(not SERVER, reason="needs a PostgreSQL server")

LEFT_BEHIND = {
    "a setting: lock_timeout": "SET lock_timeout = 1000",
    "an advisory lock": "SELECT pg_advisory_lock(1)",
    "a temporary table: beside": "CREATE TEMPORARY TABLE beside (n integer)",
    "a channel: writers": "LISTEN writers",
    "a prepared statement: PREPARE one AS SELECT 1": "PREPARE one AS SELECT 1",
}


@pytest.fixture(scope="module")
def url():
    made, drop = new_database()
    yield made
    drop()


@pytest.mark.parametrize("said", LEFT_BEHIND)
def test_what_a_transaction_leaves_in_its_session_is_seen(url, said):
    with pytest.raises(AssertionError), nothing_left_in_sessions() as left, open_store(url).engine.connect() as c:
        c.execute(text(LEFT_BEHIND[said]))
        c.commit()
    assert left == [said]


def test_the_same_statement_many_times_makes_no_prepared_one(url):
    with nothing_left_in_sessions(), open_store(url).engine.connect() as c:
        for n in range(20):
            assert c.execute(text("SELECT CAST(:n AS integer)"), {"n": n}).scalar_one() == n


def test_a_session_that_takes_no_writes_refuses_before_anything_is_computed(url):
    read_only = f"{url}&options=-c%20default_transaction_read_only%3Don"
    with pytest.raises(StoreUnusableError) as caught, open_store(read_only).writing(operation()):
        pytest.fail("it came to the computing")
    assert (caught.value.code, caught.value.details["replica"]) == ("store-not-writable", False)
    assert "right to write" in (caught.value.hint or "") and "replica" in (caught.value.hint or "")
    with open_store(read_only).writing(operation(), preview=True) as w:  # on a copy
        assert w.connection.dialect.name == "sqlite"


def test_reading_and_writing_leave_nothing_behind(url):
    with nothing_left_in_sessions():
        with open_store(url).writing(operation()):
            pass
        with open_store(url).reading() as c:
            assert c.execute(text("SELECT count(*) FROM operation")).scalar_one() == 1
