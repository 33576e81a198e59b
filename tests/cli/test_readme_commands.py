"""What the README shows works: every `taskdb` line of it is run, in order, against a new store."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import pytest

from taskdb.cli.commands_table import COMMANDS
from taskdb.errors import ExitCode
from tests.surface import readme_lines

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_every_command_of_the_readme_runs(taskdb, tmp_path, monkeypatch):
    shutil.copytree(ROOT / "demo", tmp_path / "demo", ignore=shutil.ignore_patterns("out"))
    monkeypatch.chdir(tmp_path)
    commands = readme_lines()
    assert len(commands) >= 7
    for words in commands:
        done = taskdb(*words[1:])
        assert done.exit_code in (ExitCode.DONE, ExitCode.ACT), f"{shlex.join(words)}: {done.stderr}"


def test_the_readme_names_every_command():
    for entry in COMMANDS:
        row = next((line for line in README.splitlines() if line.startswith(f"| `{entry.noun}` ")), None)
        if entry.verb:
            assert row is not None and f"`{entry.verb}`" in row, f"{entry.name} is not in the README's table"
        else:
            assert f"`{entry.noun}`" in README or f"taskdb {entry.noun}" in README
