"""`-` is standard input and output where one file is read or written; a name that begins with - is no accident."""

from __future__ import annotations

import pytest

from taskdb.errors import ExitCode

ROWS = "code,name,latitude_deg,longitude_deg\nA,Aldersby,54.1000000,-0.9000000\nB,Bexcombe,54.3000000,-0.7000000\n"


@pytest.fixture
def region(taskdb):
    assert taskdb("set", "import", "-", "--into", "region", stdin=ROWS).exit_code is ExitCode.DONE
    return taskdb


def test_a_set_comes_in_by_standard_input_and_goes_out_by_standard_output(region):
    done = region("set", "export", "region", "--format", "csv", "--to", "-")
    assert done.exit_code is ExitCode.DONE
    assert [line.split(",")[:2] for line in done.stdout.splitlines()[1:]] == [["A", "Aldersby"], ["B", "Bexcombe"]]
    assert done.stderr.startswith("-: 2 waypoints of region@1 as csv")
    again = region("set", "import", "-", "--into", "region", "--json", stdin=done.stdout)
    assert (again.result()["unchanged"], again.result()["revision"]) == (2, 1)


def test_a_dump_goes_through_a_pipe_into_another_store(region, tmp_path):
    dumped = region("store", "dump", "-")
    loaded = region("store", "load", "-", "--store", tmp_path / "other.db", stdin=dumped.stdout)
    assert loaded.exit_code is ExitCode.DONE
    assert region("store", "dump", "-", "--store", tmp_path / "other.db").stdout == dumped.stdout


def test_a_patch_is_carried_by_pipe(region):
    region("waypoint", "add", "region", "C", "--name", "Carrow", "--at", "54.2,-0.8")
    patch = region("set", "patch", "region@1", "region@2", "--to", "-").stdout
    assert region("undo").exit_code is ExitCode.DONE
    applied = region("set", "apply", "-", "--into", "region", "--json", stdin=patch)
    assert applied.exit_code is ExitCode.DONE
    assert [w["code"] for w in region("set", "show", "region", "--json").result()["waypoints"]] == ["A", "B", "C"]


def test_standard_output_holds_one_answer(region):
    refused = region("set", "export", "region", "--format", "csv", "--to", "-", "--json")
    assert (refused.exit_code, refused.error()["code"]) == (ExitCode.USAGE, "two-answers")


def test_standard_input_may_be_empty_or_closed(taskdb_process):
    assert taskdb_process("set", "import", "-", "--into", "S").exit_code is ExitCode.INPUT_UNUSABLE


@pytest.mark.parametrize(
    "line",
    [
        ("set", "export", "region", "--format", "csv", "--to", "-x.csv"),
        ("export", "set", "region", "--format", "csv", "--to", "-"),
        ("store", "backup", "-"),
        ("set", "list", "--store", "-x"),
    ],
)
def test_a_file_whose_name_begins_with_a_minus_sign_is_not_made_by_mistake(region, line, tmp_path, monkeypatch):
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    refused = region(*line)
    assert refused.exit_code is ExitCode.USAGE and "./-" in refused.stderr
    assert list(folder.iterdir()) == []


def test_a_dumb_terminal_gets_no_colour(region):
    coloured = region("set", "list", terminal=True, env={"TERM": "xterm"}).stdout
    assert "\x1b[" in coloured
    assert "\x1b[" not in region("set", "list", terminal=True, env={"TERM": "dumb"}).stdout


def test_a_home_that_cannot_be_made_is_refused_in_words(taskdb_process, tmp_path):
    (tmp_path / "file").write_text("")
    home = {"TASKDB_STORE": "", "HOME": str(tmp_path / "file"), "XDG_DATA_HOME": ""}
    refused = taskdb_process("set", "import", "-", "--into", "S", stdin=ROWS, env=home)
    assert refused.exit_code is ExitCode.STORE_UNUSABLE and "bug" not in refused.stderr
    assert taskdb_process("set", "list", env=home).exit_code is ExitCode.DONE
