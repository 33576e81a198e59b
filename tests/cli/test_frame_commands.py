"""Nouns and verbs: what is missing, mistyped or too much."""

from __future__ import annotations

import pytest

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
from taskdb.errors import ExitCode


@pytest.fixture(autouse=True)
def probe(install):
    @command("try glean")
    def glean(invocation):
        """A probe."""
        return Answer({}, people=lambda out: None)

    install(glean)


@pytest.mark.parametrize("words", [[], ["try"]])
def test_without_a_command_help_goes_to_stderr_and_it_is_usage(taskdb, words):
    done = taskdb(*words)
    assert (done.exit_code, done.stdout) == (ExitCode.USAGE, "")
    assert done.stderr.startswith("Usage: taskdb")


@pytest.mark.parametrize("words", [["--json"], ["try", "--json"], ["--json", "try"]])
def test_without_a_command_json_is_an_error_document(taskdb, words):
    done = taskdb(*words)
    assert done.exit_code is ExitCode.USAGE
    assert done.error()["hint"]


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (["tri"], "taskdb try"),
        (["TRY"], "taskdb try"),
        (["try", "glaen"], "taskdb try glean"),
        (["glean"], "taskdb try glean"),
    ],
)
def test_a_mistyped_command_is_answered_with_the_nearest(taskdb, words, near):
    done = taskdb(*words)
    assert done.exit_code is ExitCode.USAGE
    assert "Did you mean " in done.stderr and near in done.stderr
    assert taskdb(*words, "--json").error()["details"]["nearest"] == [near]


def test_a_command_like_no_other_is_answered_with_where_the_list_is(taskdb):
    assert "`taskdb --help` lists what there is." in taskdb("qqqqqq").stderr


def test_a_word_too_many_is_usage(taskdb):
    assert taskdb("try", "glean", "one").exit_code is ExitCode.USAGE


@pytest.mark.parametrize("words", [["--help"], ["try", "--help"], ["try", "glean", "-h"]])
def test_help_with_json_is_one_document(taskdb, words):
    done = taskdb(*words, "--json")
    assert done.exit_code is ExitCode.DONE
    assert done.json()["schema"] == "taskdb.help/1"
    assert done.result()["text"].startswith("Usage: taskdb")


def test_version_with_json_is_one_document(taskdb):
    assert set(taskdb("--version", "--json").result()) == {"version"}
