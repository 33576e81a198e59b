"""Shell completion, asked as the shells ask it."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import types
from pathlib import Path

import click
import pytest

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
from taskdb.cli.frame.completion import names_of
from taskdb.errors import ExitCode

pytestmark = pytest.mark.both_engines


@command("try show")
@click.argument("reference", shell_complete=names_of("set"))
@click.argument("points", nargs=-1, shell_complete=names_of("waypoint"))
def show(invocation, reference, points):
    """A probe."""
    return Answer({}, people=lambda out: None)


@pytest.fixture
def asked(taskdb, install, monkeypatch):
    """Put a store of names behind completion, and return what was asked of it."""
    install(show)
    seen = []

    def peek_names(url, kind, prefix, limit):
        seen.append((url, kind, prefix))
        if kind == "broken":
            raise RuntimeError
        return [name for name in ("Vale", "Vale of Ash", "Wold", "Wo\x1bld") if name.startswith(prefix)][:limit]

    module = types.ModuleType("taskdb.store.peek")
    module.peek_names = peek_names
    monkeypatch.setitem(sys.modules, "taskdb.store.peek", module)
    return seen


def complete(taskdb, *words: str) -> list[str]:
    line = " ".join(["taskdb", *words])
    env = {"_TASKDB_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words))}
    done = taskdb(env=env)
    assert (done.exit_code, done.stderr) == (ExitCode.DONE, "")
    return [line.partition(",")[2] for line in done.stdout.splitlines() if line]


def test_nouns_verbs_and_options_are_completed(taskdb, asked):
    assert "completion" in complete(taskdb, "comp")
    assert complete(taskdb, "try", "sh") == ["show"]
    assert complete(taskdb, "try", "show", "--sto") == ["--store"]
    assert complete(taskdb, "completion", "z") == ["zsh"]


def test_names_come_from_the_store_that_the_line_names(taskdb, asked, store_address):
    assert complete(taskdb, "try", "show", "Va") == ["Vale", "Vale of Ash"]
    complete(taskdb, "--store", "a.db", "try", "show", "Va")
    complete(taskdb, "try", "show", "--store", "b.db", "Vale", "W")
    assert asked == [(store_address, "set", "Va"), ("a.db", "set", "Va"), ("b.db", "waypoint", "W")]


def test_a_name_that_could_steer_a_terminal_is_not_offered(taskdb, asked):
    assert complete(taskdb, "try", "show", "Wo") == ["Wold"]


def test_whatever_goes_wrong_completes_nothing_and_says_nothing(taskdb, asked, monkeypatch):
    monkeypatch.setitem(sys.modules, "taskdb.store.peek", None)
    assert complete(taskdb, "try", "show", "Va") == []
    assert complete(taskdb, "no", "such", "command", "") == []


def test_an_instruction_of_an_unknown_shell_is_usage(taskdb):
    assert taskdb(env={"_TASKDB_COMPLETE": "cmd_complete"}).exit_code is ExitCode.USAGE


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_is_printed_and_is_what_the_shell_asks_for(taskdb, shell):
    printed = taskdb("completion", shell).stdout
    assert "_TASKDB_COMPLETE" in printed
    assert taskdb(env={"_TASKDB_COMPLETE": f"{shell}_source"}).stdout == printed
    assert taskdb("completion", shell, "--json").result()["script"] + "\n" == printed


PRETENDED = """\
import sys
sys.path.insert(0, {root!r})
import types
from pathlib import Path
import click
from taskdb.cli import commands_table, main
from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import command
from taskdb.cli.frame.completion import names_of
peek = types.ModuleType("taskdb.store.peek")
names = ["Ash, near Wold", "Ash's *", "Vale of Ash", "Birch", "Wold Cup:A", "Wold Cup:B 2"]
peek.peek_names = lambda url, kind, prefix, limit: [n for n in names if n.startswith(prefix)]
sys.modules["taskdb.store.peek"] = peek
@command("probe")
@click.argument("reference", shell_complete=names_of("set"))
def probe(invocation, reference):
    "A probe."
    return Answer({{"reference": reference}}, people=lambda out: out.line(reference))
sys.modules["probes"] = types.ModuleType("probes")
sys.modules["probes"].probe = probe
commands_table.COMMANDS += (commands_table.Entry("probe", "", "probes", "probe", "A probe."),)
main.run()
"""


@pytest.fixture
def in_bash(tmp_path):
    """Let a real bash complete words with the script, and return what it would insert."""
    if shutil.which("bash") is None:
        pytest.skip("needs bash")
    program = tmp_path / "pretended.py"
    program.write_text(PRETENDED.format(root=str(Path(__file__).parents[2])))
    command_file = tmp_path / "taskdb"
    command_file.write_text(f'#!/bin/sh\nexec "{sys.executable}" "{program}" "$@"\n')
    command_file.chmod(0o755)

    def run(line: str) -> list[str]:
        script = f'cd "{tmp_path}"; PATH="{tmp_path}:$PATH"; eval "$(taskdb completion bash)"\n{line}\n'
        done = subprocess.run(
            ["bash", "--norc", "-c", script], capture_output=True, text=True, encoding="utf-8", timeout=60, check=True
        )
        assert done.stderr == ""
        return done.stdout.splitlines()

    return run


def inserted(*words: str, line: str = "") -> str:
    """Return what a shell is given: the words as bash has cut them, and the line as it stands."""
    line = line or " ".join(["taskdb", "probe", *words])
    return (
        f"COMP_WORDS=(taskdb probe {' '.join(words)}); COMP_CWORD={1 + len(words)}; COMP_LINE={shlex.quote(line)}\n"
        '_taskdb_completion taskdb\nprintf "%s\\n" "${COMPREPLY[@]}"'
    )


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("Bi", ["Birch"]),
        ("Va", ["Vale of Ash"]),
        ("'Vale\\ o'", ["Vale of Ash"]),
        ("As", ["Ash, near Wold", "Ash's *"]),
    ],
)
def test_bash_inserts_names_so_that_they_are_read_back_as_one_word(in_bash, typed, names):
    words = in_bash(inserted(typed))
    assert len(words) == len(names)
    for word, name in zip(words, names, strict=True):
        assert in_bash(f"taskdb probe {word}") == [name]


def test_bash_inserts_a_name_behind_an_opening_quote_as_it_is(in_bash):
    assert in_bash(inserted("'\"Va'")) == ["Vale of Ash"]


@pytest.mark.parametrize(
    ("cut", "line", "ends"),
    [
        (("W",), "taskdb probe W", ["Wold\\ Cup:A", "Wold\\ Cup:B\\ 2"]),
        (("'Wold\\ Cup'", ":"), "taskdb probe Wold\\ Cup:", ["A", "B\\ 2"]),
        (("'Wold\\ Cup'", ":", "B"), "taskdb probe Wold\\ Cup:B", ["B\\ 2"]),
    ],
)
def test_bash_cuts_words_at_colons_and_only_the_last_piece_is_inserted(in_bash, cut, line, ends):
    assert in_bash(inserted(*cut, line=line)) == ends
