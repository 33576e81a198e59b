"""The table of formats: what it names is there, and help, completion and hand-outs follow it."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import click
import pytest

import taskdb.formats
from taskdb.cli.handing_out.export import export_set, export_task
from taskdb.cli.sets.set import export, import_
from taskdb.cli.tasks.importing import import_ as import_tasks
from taskdb.formats.known import (
    FORMATS,
    SETS_HANDED_OUT,
    SETS_READ,
    SETS_WRITTEN,
    TASKS_HANDED_OUT,
    TASKS_READ,
    TASKS_WRITTEN,
)

CALLS = sorted({*SETS_READ.values(), *SETS_WRITTEN.values(), *TASKS_READ.values(), *TASKS_WRITTEN.values()})
OPTIONS = [
    (import_, SETS_READ),
    (export, SETS_WRITTEN),
    (export_set, SETS_WRITTEN),
    (export_task, TASKS_WRITTEN),
]


@pytest.mark.parametrize("where", CALLS)
def test_what_the_table_names_is_there(where: str) -> None:
    module, _, function = where.partition(":")
    assert callable(getattr(import_module(f"taskdb.formats.{module}"), function))


def test_every_module_of_a_format_stands_in_the_table() -> None:
    named = {where.partition(":")[0] for where in CALLS}
    for noun in ("waypoints", "tasks"):
        folder = Path(taskdb.formats.__file__).parent / noun
        for path in folder.glob("*.py"):
            if path.stem != "profile" and f"\ndef read_{path.stem}" in path.read_text("utf-8"):
                assert f"{noun}.{path.stem}" in named, path


def test_names_and_suffixes_are_each_of_one_format() -> None:
    names = [known.name for known in FORMATS]
    suffixes = [suffix for known in FORMATS for suffix in known.suffixes]
    assert len(set(names)) == len(names) and len(set(suffixes)) == len(suffixes)


def test_a_format_that_does_not_say_so_is_in_no_handout() -> None:
    assert tuple(f.name for f in FORMATS if f.sets.in_handout and f.sets.writes) == SETS_HANDED_OUT
    assert tuple(f.name for f in FORMATS if f.tasks.in_handout and f.tasks.writes) == TASKS_HANDED_OUT


@pytest.mark.parametrize(("command", "formats"), OPTIONS)
def test_the_option_format_offers_and_names_what_the_table_has(command: click.Command, formats: dict[str, str]) -> None:
    option = next(p for p in command.params if isinstance(p, click.Option) and "--format" in p.opts)
    assert option.help is not None and ", ".join(formats) in option.help
    context = click.Context(command)
    assert [item.value for item in option.shell_complete(context, "")] == list(formats)
    first, last = min(formats), max(formats)
    assert [item.value for item in option.shell_complete(context, f"{first},{last[:3]}")] == [f"{first},{last}"]


def test_the_help_of_the_import_of_tasks_names_every_format() -> None:
    assert import_tasks.help is not None
    assert all(name in import_tasks.help.split("\n")[-1] for name in TASKS_READ)
