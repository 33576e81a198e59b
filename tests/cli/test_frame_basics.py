"""The frame: envelopes, usage errors, root options on both sides of the command."""

from __future__ import annotations

import pytest

from taskdb.errors import ExitCode


def test_help_goes_to_stdout_and_exits_0(taskdb):
    done = taskdb("--help")
    assert done.exit_code is ExitCode.DONE
    assert "completion" in done.stdout
    assert done.stderr == ""


def test_a_mistyped_noun_is_usage_and_names_the_nearest(taskdb):
    done = taskdb("complation")
    assert done.exit_code is ExitCode.USAGE
    assert done.stdout == ""
    assert "Did you mean taskdb completion?" in done.stderr


@pytest.mark.parametrize(
    "words",
    [
        ["--json", "completion"],
        ["completion", "--json"],
        ["completion", "--nonsense", "--json"],
        ["nonsense", "--json"],
    ],
)
def test_with_json_a_usage_error_is_one_document_on_stdout(taskdb, words):
    done = taskdb(*words)
    assert done.exit_code is ExitCode.USAGE
    assert set(done.error()) == {"code", "message", "hint", "details"}
    assert done.stderr == ""
