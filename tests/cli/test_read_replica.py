"""A replica that streams from another server answers all that reads as its primary does, and refuses what writes."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import NullPool

from taskdb.errors import ExitCode, StoreBusyError
from taskdb.store.engine import open_store
from tests.cli.test_read_only_account import LIKE_THE_OWNER, PREVIEWED, fill, reading_lines
from tests.servers.private import Cluster, cluster, is_installed, replica

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not is_installed("pg_basebackup"), reason="needs PostgreSQL's server"),
]

Pair = tuple[Cluster, Cluster]
DEMO = Path(__file__).parents[2] / "demo"
OVERWRITING = {
    "set export",
    "set notice",
    "set patch",
    "airspace export",
    "export task",
    "export set",
    "publish",
    "sheet",
    "store dump",
}
"""What writes a file and asks before it writes over one."""


@pytest.fixture(scope="module")
def pair() -> Iterator[Pair]:
    """A server, and one that follows it: whoever reads there is in the way of nothing that is taken over."""
    with cluster() as primary, replica(primary, "max_standby_streaming_delay=0") as follower:
        yield primary, follower


@pytest.fixture
def both(pair, request) -> Pair:
    """The URLs of one database of the test's own on both servers."""
    name = f"store_{abs(hash(request.node.name)):x}"
    with autocommitting(pair[0].url()) as c:
        c.execute(text(f"CREATE DATABASE {name}"))
    caught_up(pair)
    return pair[0].url(name), pair[1].url(name)


def autocommitting(url: str) -> Connection:
    return create_engine(url, poolclass=NullPool, isolation_level="AUTOCOMMIT").connect()


def caught_up(pair: Pair) -> None:
    """Wait until the follower has all that the primary has written so far."""
    with autocommitting(pair[0].url()) as c:
        written = c.execute(text("SELECT pg_current_wal_insert_lsn()")).scalar_one()
    with autocommitting(pair[1].url()) as c:
        for _ in range(300):
            if c.execute(text(f"SELECT pg_last_wal_replay_lsn() >= '{written}'")).scalar_one():
                return
            time.sleep(0.1)
    pytest.fail("the replica does not catch up")


def said(stdout: str) -> str:
    """Return a JSON answer without what names the server, and of a preview what is drawn or numbered by one."""
    return re.sub(
        r'"(identity|at|created_at|changed_at|operation|store|size_bytes|replica)":("[^"]*"|\d+|null|\{[^}]*\})',
        "",
        stdout,
    )


def test_it_answers_every_command_that_reads_and_previews_what_writes_as_its_primary_does(taskdb, pair, both, tmp_path):
    fill(taskdb, both[0], tmp_path)
    caught_up(pair)
    for name, words in reading_lines(taskdb, both[0], tmp_path).items():
        answers = []
        for url in both:
            written_over = ["--yes"] if name in OVERWRITING else []
            done = taskdb(*words, *written_over, "--json", "--store", url)
            assert done.exit_code in (ExitCode.DONE, ExitCode.ACT), f"{name}: {done.stdout}{done.stderr}"
            answers.append((done.exit_code, said(done.stdout)))
        assert answers[0] == answers[1], name
    for name in sorted(LIKE_THE_OWNER & {"task new", "task carry", "undo"}):
        asked = (*name.split(), *PREVIEWED[name], "--preview", "--json", "--store")
        assert said(taskdb(*asked, both[0]).stdout) == said(taskdb(*asked, both[1]).stdout) != "", name


def test_it_refuses_to_write_says_what_it_is_and_the_way_out_works(taskdb, pair, both):
    primary, follower = both
    new = ("set", "import", DEMO / "region.csv", "--into", "region")
    assert taskdb(*new, "--store", primary).exit_code is ExitCode.DONE
    caught_up(pair)
    for words in (new, ("waypoint", "retire", "region:001", "--yes"), ("undo",)):
        done = taskdb(*words, "--store", follower, "--json")
        assert done.exit_code is ExitCode.STORE_UNUSABLE
        assert done.error()["code"] == "store-not-writable"
        assert done.error()["details"]["replica"] is True
        assert "is a replica" in done.error()["message"] and "primary" in done.error()["hint"]
    both_hosts = f"?host={pair[1].folder},{pair[0].folder}&target_session_attrs=read-write"
    assert both_hosts.partition("&")[2] in done.error()["hint"]
    either = primary.partition("?")[0] + both_hosts
    assert taskdb("waypoint", "retire", "region:001", "--yes", "--store", either).exit_code is ExitCode.DONE


def test_store_info_says_how_far_it_is_behind(taskdb, pair, both):
    primary, follower = both
    assert taskdb("set", "import", DEMO / "region.csv", "--into", "one", "--store", primary).exit_code is ExitCode.DONE
    caught_up(pair)
    assert taskdb("store", "info", "--json", "--store", primary).result()["replica"] is None
    found = taskdb("store", "info", "--json", "--store", follower).result()
    assert (found["sets"], found["replica"]["behind_s"], found["replica"]["connected"]) == (1, 0, True)
    assert "nothing behind" in taskdb("store", "info", "--store", follower).stdout
    with autocommitting(pair[1].url()) as c:
        c.execute(text("SELECT pg_wal_replay_pause()"))
        try:
            began = time.monotonic()
            taskdb("set", "copy", "one", "two", "--store", primary)
            time.sleep(0.5)
            found = taskdb("store", "info", "--json", "--store", follower).result()
            assert found["sets"] == 1
            assert 0.5 <= found["replica"]["behind_s"] <= time.monotonic() - began + 60
            assert "at most" in taskdb("store", "info", "--store", follower).stdout
        finally:
            c.execute(text("SELECT pg_wal_replay_resume()"))
    caught_up(pair)
    assert taskdb("store", "info", "--json", "--store", follower).result()["sets"] == 2


@pytest.mark.parametrize("reads", ["SELECT pg_sleep(10)", "SELECT 1"], ids=["while reading", "between two readings"])
def test_a_reading_that_the_replica_breaks_off_may_be_tried_again(pair, both, reads):
    primary, follower = both
    with autocommitting(primary) as c:
        c.execute(text("CREATE TABLE rows AS SELECT generate_series(1, 9)"))
    caught_up(pair)

    def take_away() -> None:
        with autocommitting(primary) as c:
            c.execute(text("DROP TABLE rows"))

    other = threading.Timer(0.3, take_away)
    store = open_store(follower)
    # As `reading` does it, which would ask first whether there is a store.
    with pytest.raises(StoreBusyError) as caught, store._in_words(), store.engine.connect() as c:
        c.execute(text("SELECT count(*) FROM rows"))
        other.start()
        c.execute(text(reads))
        other.join()
        time.sleep(0.5)
        c.execute(text(reads))
    assert "try the same command again" in (caught.value.hint or "").lower()
    assert "waited" not in caught.value.message
