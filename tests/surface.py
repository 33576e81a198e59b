"""What users rely on, as lines of text: commands, options, exit codes, and the key paths of every command's JSON.

    python -m tests.surface             after something was added: writes tests/data/surface.txt anew
    python -m tests.surface --lose      where something is to go: without this nothing is ever taken off the list

Commands and options are read off the command tree. Key paths are collected by running, in this process and with
--json, the README's lines, the demo's, and those of tests/data/surface_commands.txt for what the two do not reach.
"""

from __future__ import annotations

import functools
import io
import json
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from importlib import import_module
from pathlib import Path
from typing import Any
from unittest import mock

import click

from taskdb.cli.commands_table import COMMANDS, NOUNS, Entry
from taskdb.cli.frame.lazy import root
from taskdb.cli.main import main as taskdb
from taskdb.errors import ExitCode

ROOT = Path(__file__).resolve().parents[1]
KEPT = ROOT / "tests/data/surface.txt"
MORE_COMMANDS = ROOT / "tests/data/surface_commands.txt"
KEYED_BY_VALUES = {"rule", "rules", "frequencies"}
"""Objects of JSON whose keys are values: names of rules, what a channel is for."""


def surface() -> list[str]:
    """Return every line of the surface as it is now, sorted; runs some two hundred commands."""
    return sorted({*command_tree(), *json_keys(every_document())})


def kept() -> list[str]:
    """Return the lines of the kept file."""
    return KEPT.read_text(encoding="utf-8").splitlines()


# -- the command tree -------------------------------------------------------------------------------------------------


def command_tree() -> Iterator[str]:
    """Yield exit codes, nouns, commands, and what can be typed for each of their parameters."""
    for code in ExitCode:
        yield f"exit code {code.value} {code.name}"
    with root().make_context("taskdb", [], resilient_parsing=True) as context:
        yield from _parameters("taskdb", context.command)
    for noun in NOUNS:
        yield f"noun {noun}"
    for entry in COMMANDS:
        yield f"command {entry.name}" + (": writes" if entry.writes else "")
        yield from _parameters(entry.name, made(entry))


def made(entry: Entry) -> click.Command:
    """Return the command of a line of the table."""
    command = getattr(import_module(entry.module), entry.attribute)
    assert isinstance(command, click.Command)
    return command


def _parameters(command: str, of: click.Command) -> Iterator[str]:
    for param in of.params:
        if isinstance(param, click.Option):
            names = " ".join(sorted([*param.opts, *param.secondary_opts], key=lambda name: (len(name), name)))
            yield f"option {command} {names}: {', '.join(_facts(param))}"
        else:
            yield f"argument {command} {param.human_readable_name}: {', '.join(_facts(param))}"


def _facts(param: click.Parameter) -> Iterator[str]:
    """Yield what can be typed for a parameter: its kind, its choices or bounds, how often, whether it must be."""
    kind = param.type
    is_flag = isinstance(param, click.Option) and param.is_flag
    yield "flag" if is_flag else kind.name
    if isinstance(kind, click.Choice):
        yield f"one of {'|'.join(map(str, kind.choices))}"
    if isinstance(kind, click.IntRange | click.FloatRange):
        yield f"from {_bound(kind.min)} to {_bound(kind.max)}"
    if param.multiple:
        yield "any number of times"
    if param.nargs != 1:
        yield f"{param.nargs} values" if param.nargs > 0 else "any number of values"
    if param.required:
        yield "required"
    if isinstance(param.default, str | int | float) and not is_flag:
        yield f"default {param.default}"


def _bound(value: float | None) -> str:
    return "any" if value is None else f"{value:g}"


# -- JSON -------------------------------------------------------------------------------------------------------------


def readme_lines() -> list[list[str]]:
    """Return the words of each `taskdb` line in the README's shell blocks, in order."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return _lines("\n".join(re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)), "taskdb")


def demo_lines() -> list[list[str]]:
    """Return the words of each line of demo/run.sh that runs a command, in order."""
    text = (ROOT / "demo/run.sh").read_text(encoding="utf-8")
    tour = text[text.index("# -- the tour") :]
    for name, value in re.findall(r'^(out|contest)="?([^"\n]*)"?$', text, flags=re.MULTILINE):
        tour = tour.replace(f"${name}", value)
    return _lines(tour, "run", "run_briefly")


def more_lines() -> list[list[str]]:
    """Return the words of each line for what README and demo do not reach."""
    return _lines(MORE_COMMANDS.read_text(encoding="utf-8"), "taskdb", "refused")


def _lines(text: str, *first: str) -> list[list[str]]:
    """Return the words of each line whose first word is one of these."""
    lines = text.replace("\\\n", " ").splitlines()
    return [shlex.split(line, comments=True) for line in lines if line.split(" ", 1)[0] in first]


def every_document(server: str | None = None) -> Iterator[tuple[str, dict[str, Any]]]:
    """Run all lines, those of the demo in a store of their own; yield command and JSON document of each.

    On a server, where its URL is given, the others are run; but for `store backup`, which is of stores in a file.
    """
    yield from _of_the_demo()
    with _in_a_folder_with_the_demo():
        for first, *words in (*readme_lines(), *more_lines()):
            if server and words[:2] == ["store", "backup"]:
                continue
            yield command_of(words), _answer(words, server or "readme.db", is_refused=first == "refused")


@functools.cache
def _of_the_demo() -> list[tuple[str, dict[str, Any]]]:
    with _in_a_folder_with_the_demo():
        return [(command_of(words), _answer(words, "demo.db", is_refused=False)) for _, *words in demo_lines()]


@contextmanager
def _in_a_folder_with_the_demo() -> Iterator[None]:
    with tempfile.TemporaryDirectory() as folder, chdir(folder):
        shutil.copytree(ROOT / "demo", "demo", ignore=shutil.ignore_patterns("out"))
        Path("demo/out").mkdir()
        yield


def _answer(words: list[str], store: str, *, is_refused: bool) -> dict[str, Any]:
    """Run a command line with --json and return its document.

    RuntimeError for one that ends otherwise than it is said to: its key paths would silently be others.
    """
    ours = {"TASKDB_CACHE"}  # else the cache of whoever runs the tests would be read and filled
    environment = {k: v for k, v in os.environ.items() if not k.startswith("TASKDB_") or k in ours}
    environment |= {"TASKDB_STORE": store, "TASKDB_AUTHOR": "librarian"}
    out = io.StringIO()
    with mock.patch.dict(os.environ, environment, clear=True), redirect_stdout(out), redirect_stderr(io.StringIO()):
        code = taskdb([*words, "--json"])
    if (code not in (ExitCode.DONE, ExitCode.ACT)) is not is_refused or code is ExitCode.BUG:
        raise RuntimeError(f"taskdb {shlex.join(words)} ends with {code.name}: {out.getvalue()[:500]}")
    document = json.loads(out.getvalue())
    assert isinstance(document, dict)
    return document


def command_of(words: list[str]) -> str:
    """Return the name of the command that a line calls: `sheet`, `set import`."""
    names = {entry.name for entry in COMMANDS}
    return words[0] if words[0] in names else " ".join(words[:2])


def json_keys(documents: Iterable[tuple[str, dict[str, Any]]]) -> Iterator[str]:
    """Yield `json set import result.rejected[]: code line …` for each object of each command's documents.

    An entry of a list is [], a key that is itself a value is {}.
    """
    keys: dict[str, set[str]] = defaultdict(set)
    for command, document in documents:
        schema = "error" if document["schema"] == "taskdb.error/1" else f"schema {document['schema']}"
        _collect(document, f"json {command} {schema}", keys)
    for place, found in keys.items():
        yield f"{place}: {' '.join(sorted(found))}"


def _collect(value: Any, place: str, keys: dict[str, set[str]]) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            name = "{}" if place.rpartition(".")[2] in KEYED_BY_VALUES else key
            keys[place].add(name)
            _collect(inner, f"{place}.{name}", keys)
    elif isinstance(value, list):
        for inner in value:
            _collect(inner, f"{place}[]", keys)


def one_by_one(lines: Iterable[str]) -> set[str]:
    """Return the lines with those of JSON taken apart: one for each key."""
    found = set()
    for line in lines:
        place, _, keys = line.rpartition(": ")
        found |= {f"{place}.{key}" for key in keys.split()} if line.startswith("json ") else {line}
    return found


def main(argv: list[str]) -> int:
    """Write the kept file anew; return 1 and write nothing where something would be lost unasked."""
    now, before = surface(), kept() if KEPT.exists() else []
    lost, came = (sorted(one_by_one(a) - one_by_one(b)) for a, b in ((before, now), (now, before)))
    print("\n".join([*(f"- {line}" for line in lost), *(f"+ {line}" for line in came)]))
    if lost and "--lose" not in argv:
        print(f"{len(lost)} would be lost: nothing is written. `--lose` takes them off the list.")
        return 1
    KEPT.write_text("\n".join(now) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
