"""Which commands there are, where each lives, and its one-line summary: group help and completion read only this.

A command is one line here and one function there; a test holds the two against each other. Nothing is imported.
"""

from __future__ import annotations

from typing import NamedTuple


class Entry(NamedTuple):
    """A command: `verb` is empty where the noun is itself the command (`taskdb log`)."""

    noun: str
    verb: str
    module: str
    attribute: str
    summary: str
    writes: bool = False

    @property
    def name(self) -> str:
        return f"{self.noun} {self.verb}".strip()


NOUNS: dict[str, str] = {
    "set": "Waypoint sets: import, compare, label, export.",
    "waypoint": "Single waypoints: find, show, add, edit, retire.",
    "check": "Prove a set clean: run the checks, accept or fix what they find.",
    "contest": "Contests: pinned set, zone defaults, rules, classes, days.",
    "task": "Tasks: build, show, compare, review, carry over.",
    "export": "Hand out files, and verify what was handed out.",
    "store": "The store itself: state, upgrade, backup, dump.",
}
"""The nouns that have verbs, in the order of help; one without a command in the table is not shown."""

COMMANDS: tuple[Entry, ...] = (
    Entry("store", "info", "taskdb.cli.store", "info", "Show which store is used, its schema, and what it holds."),
    Entry("log", "", "taskdb.cli.store", "log", "Show what was written into the store, newest first."),
    Entry("completion", "", "taskdb.cli.completion", "completion", "Print the script that sets up shell completion."),
)


def nouns() -> dict[str, str]:
    """Return what can follow `taskdb`, with its summary: nouns with verbs first, then single commands."""
    present = {entry.noun for entry in COMMANDS if entry.verb}
    groups = {noun: summary for noun, summary in NOUNS.items() if noun in present}
    return groups | {entry.noun: entry.summary for entry in COMMANDS if not entry.verb}


def verbs(noun: str) -> dict[str, Entry]:
    """Return the verbs of a noun; empty where it has none."""
    return {entry.verb: entry for entry in COMMANDS if entry.noun == noun and entry.verb}


def single(noun: str) -> Entry | None:
    """Return the command that a noun is by itself, if it is one."""
    return next((entry for entry in COMMANDS if entry.noun == noun and not entry.verb), None)
