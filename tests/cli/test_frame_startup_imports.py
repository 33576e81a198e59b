"""Help, version and completion stay light: held by the list of imported modules, since times differ by machine."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from taskdb.cli import commands_table

HEAVY = {"sqlalchemy", "alembic", "pyproj", "numpy", "scipy", "jinja2", "rapidfuzz"}
SNIPPET = """
import json, sys
from taskdb.cli.main import main
main(sys.argv[1:])
sys.stdout.flush()
print(json.dumps(sorted(sys.modules)), file=sys.stderr)
"""


def imported(*words: str, env: dict[str, str] | None = None) -> set[str]:
    import os

    done = subprocess.run(
        [sys.executable, "-c", SNIPPET, *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, **(env or {})},
        timeout=60,
        check=True,
    )
    modules = set(json.loads(done.stderr.splitlines()[-1]))
    assert "taskdb.cli.main" in modules
    return modules


def heavy(modules: set[str]) -> set[str]:
    return {name.partition(".")[0] for name in modules} & HEAVY


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["--version", "--json"], ["set", "--help"], ["sett"]])
def test_help_and_version_import_nothing_heavy_and_no_command(words):
    modules = imported(*words)
    assert heavy(modules) == set()
    assert {entry.module for entry in commands_table.COMMANDS} & modules == set()


@pytest.mark.parametrize(
    "line", ["taskdb ", "taskdb s", "taskdb --st", "taskdb set ", "taskdb set show ", "taskdb set show A"]
)
def test_completion_imports_nothing_heavy(line):
    words = line.split(" ")
    env = {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words) - 1)}
    assert heavy(imported(env=env)) == set()


def test_help_of_every_command_imports_nothing_heavy():
    """One process for all of them: what is once imported stays."""
    script = (
        "import json, sys\n"
        "from taskdb.cli import commands_table\n"
        "from taskdb.cli.main import main\n"
        "for entry in commands_table.COMMANDS:\n"
        "    assert main([*entry.name.split(), '--help']) == 0\n"
        "print(json.dumps(sorted(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, encoding="utf-8", timeout=60, check=True
    )
    assert heavy(set(json.loads(done.stderr.splitlines()[-1]))) == set()


@pytest.mark.parametrize("words", [["set", "list"], ["waypoint", "find", "quarry"]])
def test_small_reads_load_what_they_need(words):
    modules = imported(*words)
    assert heavy(modules) <= {"sqlalchemy"}
    ours = {name for name in modules if name.startswith("taskdb.")}
    unwanted = ("taskdb.core.review", "taskdb.core.checks", "taskdb.core.history.writers", "taskdb.report", "rich")
    assert {name for name in modules if name.startswith(unwanted)} == set()
    assert len(ours) < 75
