"""JSON and TOML nested a hundred thousand deep, given to every command that reads them: refused in words (exit 4)."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROWS = (
    "code,name,latitude_deg,longitude_deg,elevation_m\n001,Ormsau,48.872,11.8105,389\n002,Kelmried,48.561,11.522,467\n"
)
COMMANDS = (
    ("set", "import", "DEEP", "--into", "x", "--format", "geojson"),
    ("set", "import", "DEEP", "--into", "x"),
    ("set", "apply", "DEEP", "--into", "region"),
    ("set", "apply", "PATCH", "--into", "region", "--take", "DEEP"),
    ("check", "fix", "region", "--apply", "DEEP"),
    ("check", "run", "region", "--against", "DEEP"),
    ("task", "import", "DEEP", "--set", "region"),
    ("task", "check", "A", "DEEP"),
    ("store", "load", "DEEP", "--store", "new.db"),
    ("contest", "new", "C", "--set", "region", "--preset", "DEEP.toml"),
    ("set", "export", "region", "--to", "x.csv", "--profile", "DEEP.toml"),
)
DEEP = {
    "lists": "[" * 100_000,
    "closed lists": "[" * 100_000 + "]" * 100_000,
    "objects": '{"features":' * 100_000,
    "a feature's property": '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"a":'
    + "[" * 100_000 + "]" * 100_000 + '},"geometry":{"type":"Point","coordinates":[11,48]}}]}',
    "a patch": '{"schema":"taskdb.patch/1","add":' + '{"a":' * 100_000 + "1" + "}" * 100_001,
    "a number": '{"schema":"taskdb.check-plan/1","findings":[{"take":' + "9" * 100_000 + "}]}",
}  # fmt: skip


@pytest.mark.parametrize("name", DEEP)
def test_a_document_too_deep_is_refused(taskdb, tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    Path("ROWS").write_text(ROWS)
    for words in (
        ("set", "import", "ROWS", "--into", "region"),
        ("waypoint", "edit", "001", "--name", "Ormsau West"),
        ("set", "patch", "region@1", "region@2", "--to", "PATCH"),
        ("task", "new", "A", "001", "002", "001", "--set", "region"),
    ):
        assert taskdb(*words, "--yes").exit_code is ExitCode.DONE
    Path("DEEP").write_text(DEEP[name])
    Path("DEEP.toml").write_text("summary = " + DEEP[name])
    for words in COMMANDS:
        done = taskdb(*words, "--json")
        assert done.exit_code is ExitCode.INPUT_UNUSABLE, (words, done.stdout[:500])
        assert done.error()["hint"]
        assert len(done.stdout) < 5_000
