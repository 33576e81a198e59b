"""Root options on both sides of the command, the options of writing commands, typed values, questions."""

from __future__ import annotations

import click
import pytest

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
from taskdb.cli.typed.options import DISTANCE, FILE, assignments
from taskdb.errors import ExitCode, UsageError
from taskdb.services.desk import NeedsConfirmation

SHORT = ["--units", "nmi", "--wait", "2"]


@command("try look")
@click.argument("words", nargs=-1)
@click.option("--within", type=DISTANCE)
def look(invocation, words, within):
    """A probe."""
    desk = invocation.desk
    return Answer(
        {
            "store": desk.store_url,
            "author": desk.author,
            "wait_s": desk.wait_s,
            "units": invocation.units,
            "words": words,
            "within_m": within,
            "contest": invocation.contest(None),
        },
        people=lambda out: out.line("looked"),
    )


@command("try write", writes=True)
def write(invocation):
    """A probe."""

    def service(how):
        if not how.confirmed:
            raise NeedsConfirmation("Three waypoints would be retired.")
        return {"command": how.command, "note": how.note, "kept": not how.preview}

    done = invocation.confirmed(service)
    return Answer(done, people=lambda out: out.line("three retired"))


@command("try ask", writes=True)
def ask(invocation):
    """A probe."""
    invocation.ask("Overwrite old.csv?")
    return Answer({}, people=lambda out: out.line("overwritten"))


@pytest.fixture(autouse=True)
def probes(install):
    install(look, write, ask)


@pytest.mark.parametrize(
    "words",
    [
        ["--store", "a.db", "--author", "Ada", "--units", "nmi", "--wait", "2", "--json", "try", "look"],
        ["try", "--store", "a.db", "--author", "Ada", "--units", "nmi", "--wait", "2", "--json", "look"],
        ["try", "look", "--store", "a.db", "--author", "Ada", "--units", "nmi", "--wait", "2", "--json"],
        [
            "--json",
            "--store",
            "b.db",
            "--wait",
            "9",
            "try",
            "--store",
            "c.db",
            "look",
            "--store=a.db",
            "--author=Ada",
            *SHORT,
        ],
    ],
)
def test_root_options_stand_before_or_after_and_the_last_wins(taskdb, words):
    result = taskdb(*words).result()
    assert (result["store"], result["author"], result["units"], result["wait_s"]) == ("a.db", "Ada", "nmi", 2)


def test_without_options_the_environment_then_the_defaults_count(taskdb, monkeypatch):
    result = taskdb("try", "look", "--json", env={"TASKDB_STORE": "club.db", "TASKDB_AUTHOR": "Bea"}).result()
    assert (result["store"], result["author"], result["units"], result["wait_s"]) == ("club.db", "Bea", "km", 30)
    monkeypatch.delenv("TASKDB_STORE")
    monkeypatch.delenv("TASKDB_AUTHOR")
    result = taskdb("try", "look", "--json", env={"XDG_DATA_HOME": "/nowhere/data", "LOGNAME": "cyr"}).result()
    assert result["store"].endswith("taskdb.sqlite")
    assert result["author"] == "cyr"


@pytest.mark.parametrize("option", ["--store", "--author"])
def test_an_empty_root_option_is_refused(taskdb, option):
    assert taskdb("try", "look", option, " ").exit_code is ExitCode.USAGE


def test_the_contest_from_the_environment_is_said_on_stderr(taskdb):
    done = taskdb("try", "look", "--json", env={"TASKDB_CONTEST": "Vale Cup"})
    assert done.result()["contest"] == "Vale Cup"
    assert done.stderr == "Contest 'Vale Cup', from TASKDB_CONTEST.\n"


def test_a_distance_without_a_unit_is_usage_and_names_the_option(taskdb):
    done = taskdb("try", "look", "--within", "5")
    assert done.exit_code is ExitCode.USAGE
    assert "error: --within: The distance '5' has no unit." in done.stderr
    assert taskdb("try", "look", "--within", "5nmi", "--json").result()["within_m"] == 9260.0


@pytest.mark.parametrize(
    "word", ["-33.9,151.2", "-33 54.000,151 12.000", "-33.9", "-.5,1", "-33°54'00\",151°12'00\"", "-1;2"]
)
def test_a_position_that_begins_with_a_minus_sign_is_an_argument(taskdb, word):
    assert taskdb("try", "look", "HOME", word, "--json").result()["words"] == ["HOME", word]
    assert taskdb("try", "look", "--", word, "--help", "--json").exit_code is ExitCode.DONE


@pytest.mark.parametrize("word", ["--withim", "-x", "--33.9", "-w5"])
def test_a_mistyped_option_among_points_is_still_refused(taskdb, word):
    done = taskdb("try", "look", "HOME", word, "5km")
    assert done.exit_code is ExitCode.USAGE
    assert "no option" in done.stderr


def test_a_name_that_begins_like_an_option_is_told_how_to_be_given(taskdb):
    refused = taskdb("task", "show", "-A", "--json").error()
    assert refused["code"] == "no-such-option"
    assert "behind --" in refused["hint"]
    assert taskdb("task", "show", "--json", "--", "-A").error()["code"] == "task-not-found"


def test_a_mistyped_option_is_answered_with_the_nearest(taskdb):
    assert "Did you mean --within or --wait?" in taskdb("try", "look", "--withim", "5km").stderr
    assert taskdb("try", "look", "--withim", "5km", "--json").error()["details"]["nearest"][0] == "--within"


@pytest.mark.parametrize("option", [["--preview"], ["--note", "x"], ["--yes"]])
def test_a_reading_command_has_no_options_of_writing(taskdb, option):
    assert taskdb("try", "look", *option).exit_code is ExitCode.USAGE


def test_yes_and_note_reach_the_service(taskdb):
    assert taskdb("try", "write", "--yes", "--note", "spring clean", "--json").result() == {
        "command": "try write",
        "note": "spring clean",
        "kept": True,
    }


def test_without_a_terminal_a_question_is_refused_and_names_its_option(taskdb):
    done = taskdb("try", "write", stdin="y\n")
    assert done.exit_code is ExitCode.REFUSED
    assert done.stderr == "error: Three waypoints would be retired.\n  hint: Give --yes to go ahead.\n"
    assert taskdb("try", "ask", "--json").error()["details"] == {"option": "--yes"}


@pytest.mark.parametrize("verb", ["write", "ask"])
@pytest.mark.parametrize("typed", ["n\n", "\n", "", "yesterday\n"])
def test_on_a_terminal_anything_but_yes_declines(taskdb, verb, typed):
    done = taskdb("try", verb, stdin=typed, terminal=True)
    assert done.exit_code is ExitCode.REFUSED
    assert done.stdout == ""
    assert "[y/N]" in done.stderr


@pytest.mark.parametrize("typed", ["y\n", "YES\n"])
def test_on_a_terminal_yes_goes_ahead_and_the_question_stands_on_stderr(taskdb, typed):
    done = taskdb("try", "write", stdin=typed, terminal=True)
    assert done.exit_code is ExitCode.DONE
    assert done.stdout == "three retired\n"
    assert done.stderr == "Three waypoints would be retired. [y/N] "


def test_a_preview_is_headed_would_and_is_not_held_up_by_a_question(taskdb):
    done = taskdb("try", "write", "--preview")
    assert done.stdout.splitlines()[0].startswith("would")
    assert done.stderr == "warning: It would ask: Three waypoints would be retired.\n"
    document = taskdb("try", "write", "--preview", "--json").json()
    assert document["result"]["preview"] is True
    assert document["result"]["kept"] is False
    assert document["warnings"] == ["It would ask: Three waypoints would be retired."]


def test_bytes_that_are_no_text_are_refused_but_in_the_name_of_a_file(taskdb, install):
    bad = b"Quarry\xff".decode("utf-8", "surrogateescape")

    @command("try file", writes=True)
    @click.argument("path", type=FILE)
    def file(invocation, path):
        """A probe."""
        return Answer({"path": path}, people=lambda out: out.line(path))

    install(file)
    for words in (["look", bad], ["file", "x", "--note", bad], ["look", "--author", bad]):
        done = taskdb("try", *words)
        assert done.exit_code is ExitCode.USAGE
        assert "no UTF-8 text" in done.stderr
    assert taskdb("try", "file", bad).exit_code is ExitCode.DONE
    assert taskdb("try", "file", bad, "--json").result()["path"] == bad


def test_author_and_note_are_one_clean_line(taskdb):
    assert taskdb("try", "look", "--json", "--author", " Ada\x1b[31m\nB ").result()["author"] == "Ada [31m B"
    assert taskdb("try", "write", "--yes", "--json", "--note", "a\n\nb").result()["note"] == "a b"
    assert taskdb("try", "write", "--yes", "--json", "--note", " ").result()["note"] is None


def test_assignments_read_words_with_an_equals_sign():
    assert assignments(("a=1", "b = 2=3"), option="--map", form="OLD=NEW") == {"a": "1", "b": "2=3"}
    for bad in (("a",), ("=1",), ("a=1", "a=2")):
        with pytest.raises(UsageError):
            assignments(bad, option="--map", form="OLD=NEW")
