"""A librarian's year in commands, each of them run: two librarians without a common server, a contest, a mistake."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = [pytest.mark.slow, pytest.mark.both_engines]

ROOT = Path(__file__).parents[2]

TOUR = """\
taskdb set import demo/region.csv --into region --note "club survey 2026"
taskdb set label region "2026 edition" --valid-from 2026-04-01
taskdb set copy region "Varn Cup points" --note "for the contest in May"
taskdb contest new "Varn Cup" --set "Varn Cup points" --site 001
taskdb task new A1 001 304 003 001 --contest "Varn Cup"
taskdb set import demo/mends.csv --into region --note "mended after the check"
taskdb waypoint add region 401 --at "48°45.2'N 011°50.1'E" --name "Stausee Varn" --elevation 395m --feature water
taskdb waypoint edit region:001 --radio "123.505 launch; 122.480 gliders" --note "second channel confirmed"
taskdb waypoint retire region:280 --note "one silo under two names"
taskdb set diff region@1 region --tolerance 1m --tasks --geojson changes.geojson
taskdb set notice region@1 region --to notice.html
taskdb set patch region@1 region --to region.patch.json
taskdb set apply region.patch.json --into "Varn Cup points" --note "corrections of the region"
taskdb contest pin "Varn Cup" "Varn Cup points@2"
taskdb waypoint show region:304 --history
taskdb undo
taskdb set restore region@1 --preview
taskdb waypoint restore region:280
taskdb set log region
taskdb log
"""

ELSEWHERE = """\
taskdb --store elsewhere.sqlite --author deputy set import demo/region.csv --into ours
taskdb --store elsewhere.sqlite --author deputy waypoint edit 304 --at 48.7048,12.5271 --note "from the map"
taskdb --store elsewhere.sqlite --author deputy set apply region.patch.json --into ours --conflicts decide.json
taskdb --store elsewhere.sqlite --author deputy set apply region.patch.json --into ours --take decide.json
"""


def words(text):
    return [shlex.split(line)[1:] for line in text.splitlines()]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    shutil.copytree(ROOT / "demo", tmp_path / "demo", ignore=shutil.ignore_patterns("out"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_command_of_the_tour_runs(taskdb, folder):
    said = {}
    for command in words(TOUR):
        done = taskdb(*command)
        assert done.exit_code is ExitCode.DONE, f"{shlex.join(command)}: {done.stderr}"
        said[" ".join(command[:2])] = done.stdout
    assert "moved 22.1 km towards 090°" in said["set diff"]
    assert "becomes stale: A1" in said["contest pin"]
    assert said["undo"].startswith("undone: operation 11, contest pin by librarian")
    assert "contest Varn Cup@3: as in Varn Cup@1" in said["undo"]
    assert "280 Getreidesilo Haselquarn brought back" in said["waypoint restore"]
    assert "mended after the check" in (folder / "notice.html").read_text(encoding="utf-8")
    changes = json.loads((folder / "changes.geojson").read_text(encoding="utf-8"))
    assert sum(f["properties"]["change"] == "moved" for f in changes["features"]) == 5


def test_two_librarians_merge_and_a_person_decides(taskdb, folder):
    for command in words(TOUR)[:12]:
        assert taskdb(*command).exit_code is ExitCode.DONE
    imported, edited, applied, decided = words(ELSEWHERE)
    assert taskdb(*imported).exit_code is ExitCode.DONE
    assert taskdb(*edited).exit_code is ExitCode.DONE
    refused = taskdb(*applied)
    assert refused.exit_code is ExitCode.REFUSED
    assert "304 Bahnhof Eschlwang, position: both changed it" in refused.stderr
    for line in ("expected: 48.7047", "found: 48.7048", "wanted: 48.7047"):
        assert line in refused.stderr
    assert "--take decide.json" in refused.stderr
    decide = folder / "decide.json"
    document = json.loads(decide.read_text(encoding="utf-8"))
    assert [(c["code"], c["field"], c["take"]) for c in document["conflicts"]] == [("304", "position", None)]
    document["conflicts"][0]["take"] = "theirs"
    decide.write_text(json.dumps(document), encoding="utf-8")
    done = taskdb(*decided)
    assert done.exit_code is ExitCode.DONE, done.stderr
    assert "1 conflict decided: 1 for theirs" in done.stdout
    here = taskdb("set", "show", "region", "--json").result()["waypoints"]
    there = taskdb("--store", "elsewhere.sqlite", "set", "show", "ours", "--json").result()["waypoints"]

    def without_place(waypoints):
        return [{k: v for k, v in w.items() if k not in ("set", "revision", "identity")} for w in waypoints]

    assert without_place(here) == without_place(there)


def test_a_refused_patch_and_undo_say_everything_in_json_too(taskdb, folder):
    for command in [*words(TOUR)[:12], *words(ELSEWHERE)[:2]]:
        assert taskdb(*command).exit_code is ExitCode.DONE
    error = taskdb(*words(ELSEWHERE)[2], "--json").error()
    assert error["code"] == "conflicts"
    (conflict,) = error["details"]["conflicts"]
    assert set(conflict) >= {"code", "field", "expected", "found", "wanted"}
    undone = taskdb("undo", "6", "--json")
    assert undone.exit_code is ExitCode.DONE, undone.stdout
    assert undone.result()["undone"]["operation"] == 6
    assert undone.result()["stands"][0]["what"] == "set region@6"
    taskdb("waypoint", "edit", "region:401", "--name", "Varnsee")
    error = taskdb("undo", "7", "--json").error()
    assert (error["code"], error["details"]["in_the_way"][0]["what"]) == (
        "changed-since",
        "waypoint 401 Stausee Varn of set region",
    )
    people = taskdb("undo", "7")
    assert people.exit_code is ExitCode.REFUSED
    assert "name Stausee Varn → Varnsee, by operation" in people.stderr


@pytest.mark.parametrize(
    ("command", "code"),
    [
        ("set diff region@1 region@9", ExitCode.NOT_FOUND),
        ("set diff region", ExitCode.USAGE),
        ("set diff region@1 region@1 --tolerance 5", ExitCode.USAGE),
        ("set apply none.json --into region", ExitCode.NOT_FOUND),
        ("set apply demo/region.csv --into region", ExitCode.INPUT_UNUSABLE),
        ("set patch region@1 region@1 --to p.json", ExitCode.REFUSED),
        ("set restore region@1", ExitCode.USAGE),
        ("set restore region@9", ExitCode.NOT_FOUND),
        ("set label region@9 x", ExitCode.NOT_FOUND),
        ("set label region x --valid-from 1.3.2027", ExitCode.USAGE),
        ("set copy region region", ExitCode.REFUSED),
        ("set notice region@1 other@1 --to n.html", ExitCode.NOT_FOUND),
        ("waypoint add region 401 --name x", ExitCode.USAGE),
        ("waypoint add region 001 --name x --at 48.1,12.1", ExitCode.REFUSED),
        ("waypoint add region 401 --name x --at 48.1,12.1 --elevation 395", ExitCode.USAGE),
        ("waypoint edit 001", ExitCode.USAGE),
        ("waypoint edit 9999 --name x", ExitCode.NOT_FOUND),
        ("waypoint restore 001", ExitCode.REFUSED),
        ("undo 99", ExitCode.NOT_FOUND),
        ("undo 1 --author deputy", ExitCode.REFUSED),
    ],
)
def test_what_cannot_be_done_says_so_with_its_exit_code_and_a_way_out(taskdb, folder, command, code):
    taskdb("set", "import", "demo/region.csv", "--into", "region")
    done = taskdb(*shlex.split(command), "--json")
    assert done.exit_code is code, done.stdout
    error = done.error()
    assert error["hint"] and "Traceback" not in done.stderr
    assert taskdb("log", "--json").result()["total"] == 1


def test_what_can_be_previewed_keeps_nothing(taskdb, folder):
    for command in words(TOUR)[:9]:
        taskdb(*command)
    before = taskdb("log", "--json").result()
    for command in (
        "undo",
        "set restore region@1",
        "set label region x",
        "set copy region other",
        "waypoint retire region:001",
        "waypoint edit region:001 --name x",
    ):
        done = taskdb(*shlex.split(command), "--preview", "--json")
        assert done.exit_code is ExitCode.DONE and done.result()["preview"] is True, done.stdout
    assert taskdb("log", "--json").result() == before
