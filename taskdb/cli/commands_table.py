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

# One command is one line, however long.
# fmt: off
COMMANDS: tuple[Entry, ...] = (
    Entry("set", "import", "taskdb.cli.set", "import_", "Import a file of waypoints into a set.", writes=True),
    Entry("set", "list", "taskdb.cli.set", "list_", "List the waypoint sets with their newest revisions."),
    Entry("set", "show", "taskdb.cli.set", "show", "Show a set at a revision with its waypoints."),
    Entry("set", "log", "taskdb.cli.set", "log", "List a set's revisions, newest first."),
    Entry("set", "export", "taskdb.cli.set", "export", "Write a set to one file."),
    Entry("set", "diff", "taskdb.cli.history", "diff", "Show what differs between two revisions of a set, or between two sets."),
    Entry("set", "notice", "taskdb.cli.history", "notice", "Write the change notice for members: what to update, and why, on one page."),
    Entry("set", "patch", "taskdb.cli.history", "patch", "Write what changed between two revisions as a patch that another store can take."),
    Entry("set", "apply", "taskdb.cli.history", "apply", "Merge a patch into a set.", writes=True),
    Entry("set", "restore", "taskdb.cli.history", "restore", "Make a new revision of a set that equals an earlier one.", writes=True),
    Entry("set", "label", "taskdb.cli.history", "label", 'Give a revision of a set a label, such as "2027 edition".', writes=True),
    Entry("set", "copy", "taskdb.cli.history", "copy", "Copy a set into a new one; the waypoints stay the same ones.", writes=True),
    Entry("waypoint", "find", "taskdb.cli.waypoint", "find", "Find waypoints by code, name, kind or nearness."),
    Entry("waypoint", "show", "taskdb.cli.waypoint", "show", "Show everything known of one waypoint."),
    Entry("waypoint", "add", "taskdb.cli.waypoint_edit", "add", "Add a waypoint to a set.", writes=True),
    Entry("waypoint", "edit", "taskdb.cli.waypoint_edit", "edit", "Change what is given of a waypoint; the rest stays.", writes=True),
    Entry("waypoint", "retire", "taskdb.cli.waypoint_edit", "retire", "Retire a waypoint; its states stay.", writes=True),
    Entry("waypoint", "restore", "taskdb.cli.waypoint_edit", "restore", "Bring a retired waypoint back, or set one back to an earlier state.", writes=True),
    Entry("check", "run", "taskdb.cli.check", "run", "Check a set: every suspected fault with its evidence and its mend."),
    Entry("check", "rules", "taskdb.cli.check", "rules", "List the rules with what each looks for."),
    Entry("check", "explain", "taskdb.cli.check", "explain", "Explain a rule: what it finds, why that matters, how to mend it."),
    Entry("check", "list", "taskdb.cli.check", "list_", "List the findings that were accepted, by whom and why."),
    Entry("check", "accept", "taskdb.cli.check", "accept", "Keep findings quiet until one of their values changes.", writes=True),
    Entry("check", "fix", "taskdb.cli.check", "fix", "Take the mends of findings, as one revision.", writes=True),
    Entry("check", "merge", "taskdb.cli.check", "merge", "Join two duplicates: KEEP stays and takes what it lacks from DROP, which is retired.", writes=True),
    Entry("contest", "new", "taskdb.cli.contest", "new", "Make a contest on a set revision, with its zone defaults.", writes=True),
    Entry("contest", "zones", "taskdb.cli.contest", "zones", "Change a contest's zone defaults for the roles named.", writes=True),
    Entry("contest", "pin", "taskdb.cli.contest", "pin", "Move a contest to a set revision.", writes=True),
    Entry("contest", "day", "taskdb.cli.day", "day", "Keep a day's date, start, wind, speed and briefing, for all or for a class; show it with the sun.", writes=True),
    Entry("contest", "procedure", "taskdb.cli.contest_settings", "procedure", "Set a contest's start, finish and day; each value may be `default`.", writes=True),
    Entry("contest", "briefing", "taskdb.cli.contest_settings", "briefing", "Set what pilots are told: times, programme, telephone, finish, landing, remarks.", writes=True),
    Entry("contest", "limits", "taskdb.cli.contest_settings", "limits", "Set the speeds and limits that reviews hold tasks against, and the triangle's.", writes=True),
    Entry("contest", "classes", "taskdb.cli.contest_settings", "classes", "Set a contest's classes with the slowest and fastest speeds expected in them.", writes=True),
    Entry("contest", "edit", "taskdb.cli.contest_settings", "edit", "Change a contest's name, site, dates, time zone, earth model or units.", writes=True),
    Entry("contest", "copy", "taskdb.cli.contest_settings", "copy", "Make next season's contest from an old one.", writes=True),
    Entry("contest", "log", "taskdb.cli.contest_settings", "log", "List a contest's revisions, newest first."),
    Entry("contest", "presets", "taskdb.cli.contest_settings", "presets", "List the presets for `contest new`, or show one with its sources."),
    Entry("contest", "show", "taskdb.cli.contest", "show", "Show a contest: its set, its zone defaults, its rules, what is stale."),
    Entry("contest", "list", "taskdb.cli.contest", "list_", "List the contests."),
    Entry("task", "new", "taskdb.cli.task", "new", "Make a task from points in order, with its zones.", writes=True),
    Entry("task", "import", "taskdb.cli.task_import", "import_", "Take tasks from a file or a folder: GPX, KML, KMZ, GeoJSON, CSV, declarations.", writes=True),
    Entry("task", "edit", "taskdb.cli.task", "edit", "Change a task as a new revision.", writes=True),
    Entry("task", "show", "taskdb.cli.task", "show", "Show a task: points, zones, legs, distances, shape, time, and whether it is stale."),
    Entry("task", "list", "taskdb.cli.task", "list_", "List the tasks, of one contest or of the whole store."),
    Entry("task", "log", "taskdb.cli.task", "log", "List a task's revisions, newest first."),
    Entry("task", "copy", "taskdb.cli.task", "copy", "Copy a task under a new name in the same contest.", writes=True),
    Entry("task", "retire", "taskdb.cli.task", "retire", "Retire a task; its revisions and records stay.", writes=True),
    Entry("task", "restore", "taskdb.cli.task", "restore", "Bring a retired task back, or make a revision equal to NAME@R.", writes=True),
    Entry("task", "compare", "taskdb.cli.task", "compare", "Hold two to six tasks side by side against the first."),
    Entry("task", "review", "taskdb.cli.review", "review", "Review tasks before they are flown: zones, legs, times, points, twins."),
    Entry("task", "fingerprint", "taskdb.cli.task", "fingerprint", "Say a task's fingerprint, to compare over the radio."),
    Entry("task", "check", "taskdb.cli.task_check", "check", "Hold a fingerprint, or a file of any format that is read, against the official task."),
    Entry("task", "find", "taskdb.cli.library", "find", "Find tasks by what they are and how they were flown."),
    Entry("task", "choose", "taskdb.cli.library", "choose", "Issue a variant, and mark what it replaces.", writes=True),
    Entry("task", "cancel", "taskdb.cli.library", "cancel", "Mark a task as cancelled.", writes=True),
    Entry("task", "flown", "taskdb.cli.library", "flown", "Keep how a task was flown on a day, or show it.", writes=True),
    Entry("task", "path", "taskdb.cli.task_path", "path", "Say where to turn in the areas for a wanted length."),
    Entry("task", "carry", "taskdb.cli.carry", "carry", "Carry tasks over to another set or revision, point by point.", writes=True),
    Entry("task", "refresh", "taskdb.cli.carry", "refresh", "Bring stale tasks up to the set revision and zone defaults that count now.", writes=True),
    Entry("task", "update", "taskdb.cli.update", "update", "After a mended coordinate: pin a contest's set and refresh a day's tasks.", writes=True),
    Entry("export", "task", "taskdb.cli.export", "export_task", "Write tasks to files, with a manifest."),
    Entry("export", "set", "taskdb.cli.export", "export_set", "Write sets to files, with a manifest."),
    Entry("export", "verify", "taskdb.cli.export", "verify", "Compare an export with its manifest."),
    Entry("handout", "", "taskdb.cli.handout", "handout", "Write a day's tasks in every format, with sheet, maps, points and what changed.", writes=True),
    Entry("sheet", "", "taskdb.cli.export", "sheet", "Write the task sheet: one page a task, with its map and its zones for thumbs."),
    Entry("store", "info", "taskdb.cli.store", "info", "Show which store is used, its schema, and what it holds."),
    Entry("store", "upgrade", "taskdb.cli.store", "upgrade", "Bring the store to the newest schema.", writes=True),
    Entry("store", "backup", "taskdb.cli.store_keeping", "backup", "Copy the store into a file while it is in use.", writes=True),
    Entry("store", "verify", "taskdb.cli.store_keeping", "verify", "Hold the store's file, rows and measured tasks against its own rules."),
    Entry("store", "dump", "taskdb.cli.store_keeping", "dump", "Write the whole store as text that either engine can load.", writes=True),
    Entry("store", "load", "taskdb.cli.store_keeping", "load", "Fill a new, empty store from a dump.", writes=True),
    Entry("undo", "", "taskdb.cli.undo", "undo", "Undo your newest operation, or operation OP of `taskdb log`.", writes=True),
    Entry("log", "", "taskdb.cli.store", "log", "Show what was written into the store, newest first."),
    Entry("completion", "", "taskdb.cli.completion", "completion", "Print the script that sets up shell completion."),
)
# fmt: on


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
