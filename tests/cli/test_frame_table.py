"""The static table of commands against the commands themselves."""

from __future__ import annotations

import pkgutil
from importlib import import_module

import click
import pytest

import taskdb.cli
from taskdb.cli import commands_table
from taskdb.cli.frame.command import FrameCommand
from taskdb.errors import ExitCode

COMMANDS = {entry.name: entry for entry in commands_table.COMMANDS}


def found(entry: commands_table.Entry) -> FrameCommand:
    made = getattr(import_module(entry.module), entry.attribute)
    assert isinstance(made, FrameCommand)
    return made


@pytest.mark.parametrize("name", COMMANDS)
def test_the_summary_in_the_table_is_the_command_s_own(name):
    made = found(COMMANDS[name])
    assert made.help is not None
    assert made.help.strip().split("\n\n")[0].replace("\n", " ") == COMMANDS[name].summary
    assert len(COMMANDS[name].summary) <= 100


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_has_the_options_that_every_command_has(name):
    options = {flag for param in found(COMMANDS[name]).params for flag in param.opts}
    assert {"--json", "--store", "--author", "--units", "--no-color", "--wait"} <= options
    writing = {"--preview", "--note", "--yes"}
    assert (writing <= options) is COMMANDS[name].writes
    assert found(COMMANDS[name]).writes is COMMANDS[name].writes


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_has_help_and_says_what_each_option_does(taskdb, name):
    done = taskdb(*name.split(), "--help")
    assert done.exit_code is ExitCode.DONE
    assert done.stdout.startswith(f"Usage: taskdb {name} ")
    silent = [p.opts[0] for p in found(COMMANDS[name]).params if isinstance(p, click.Option) and not p.help]
    assert silent == []


def test_names_are_unique_and_every_noun_with_verbs_has_a_summary():
    assert len(COMMANDS) == len(commands_table.COMMANDS)
    assert {entry.noun for entry in commands_table.COMMANDS if entry.verb} <= set(commands_table.NOUNS)


def test_group_help_lists_every_command_with_its_summary(taskdb):
    for noun in {entry.noun for entry in commands_table.COMMANDS if entry.verb}:
        shown = " ".join(taskdb(noun, "--help").stdout.split())
        for entry in commands_table.verbs(noun).values():
            assert f"{entry.verb} {entry.summary}" in shown


def test_every_command_that_is_written_stands_in_the_table():
    listed = {(entry.module, entry.attribute) for entry in commands_table.COMMANDS}
    found = set()
    for module in pkgutil.walk_packages(taskdb.cli.__path__, "taskdb.cli."):
        values = vars(import_module(module.name)).items()
        found |= {(module.name, name) for name, value in values if isinstance(value, FrameCommand)}
    assert found == listed
