"""Nothing that users rely on is lost or renamed unseen: the surface is held against the kept list of it.

After adding a command, an option or a key: `python -m tests.surface` writes the list anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import nullcontext

import pytest

from taskdb.cli.commands_table import COMMANDS
from tests.servers.sessions import nothing_left_in_sessions
from tests.surface import command_tree, every_document, json_keys, kept, one_by_one

HINT = "`python -m tests.surface` writes tests/data/surface.txt anew (with --lose, where something is to go)"

TREE = ("argument ", "command ", "exit code ", "noun ", "option ")


def assert_as_kept(now: Iterable[str], *, but_for: tuple[str, ...]) -> None:
    before, found = one_by_one(line for line in kept() if not line.startswith(but_for)), one_by_one(now)
    assert sorted(before - found) == [], f"lost; {HINT}"
    assert sorted(found - before) == [], f"not on the list yet; {HINT}"


def test_every_command_option_and_exit_code_is_on_the_kept_list_and_the_other_way_round():
    assert_as_kept(command_tree(), but_for=("json ",))


@pytest.mark.slow
@pytest.mark.both_engines
def test_every_key_of_every_command_s_json_is_on_the_kept_list_and_the_other_way_round(store_address):
    server = store_address if "://" in store_address else None
    of_files_alone = {"store backup"} if server else set()
    with nothing_left_in_sessions() if server else nullcontext():  # for poolers: a session is not ours for long
        documents = list(every_document(server))
    answered = {command for command, document in documents if document["ok"]}
    silent = {entry.name for entry in COMMANDS} - answered - of_files_alone
    assert sorted(silent) == [], "add lines for them to tests/data/surface_commands.txt"
    assert_as_kept(json_keys(documents), but_for=(*TREE, *(f"json {name} " for name in of_files_alone)))
