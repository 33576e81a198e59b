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
    "airspace": "Airspace and keep-out areas: import, draw, compare, export.",
    "contest": "Contests: pinned set, zone defaults, rules, classes, days.",
    "task": "Tasks: build, show, compare, review, carry over.",
    "flight": "Flights that were flown: read logs against tasks, and against places.",
    "export": "Hand out files, and verify what was handed out.",
    "store": "The store itself: state, upgrade, backup, dump.",
}
"""The nouns that have verbs, in the order of help; one without a command in the table is not shown."""

# One command is one line, however long.
# fmt: off
COMMANDS: tuple[Entry, ...] = (
    Entry("set", "import", "taskdb.cli.sets.set", "import_", "Import a file of waypoints into a set.", writes=True),
    Entry("set", "list", "taskdb.cli.sets.set", "list_", "List the waypoint sets with their newest revisions."),
    Entry("set", "show", "taskdb.cli.sets.set", "show", "Show a set at a revision with its waypoints."),
    Entry("set", "log", "taskdb.cli.sets.set", "log", "List a set's revisions, newest first."),
    Entry("set", "export", "taskdb.cli.sets.set", "export", "Write a set to one file."),
    Entry("set", "diff", "taskdb.cli.sets.history", "diff", "Show what differs between two revisions of a set, or between two sets."),
    Entry("set", "notice", "taskdb.cli.sets.history", "notice", "Write the change notice for members: what to update, and why, on one page."),
    Entry("set", "patch", "taskdb.cli.sets.history", "patch", "Write what changed between two revisions as a patch that another store can take."),
    Entry("set", "apply", "taskdb.cli.sets.history", "apply", "Merge a patch into a set.", writes=True),
    Entry("set", "restore", "taskdb.cli.sets.history", "restore", "Make a new revision of a set that equals an earlier one.", writes=True),
    Entry("set", "label", "taskdb.cli.sets.history", "label", 'Give a revision of a set a label, such as "2027 edition".', writes=True),
    Entry("set", "copy", "taskdb.cli.sets.history", "copy", "Copy a set into a new one; the waypoints stay the same ones.", writes=True),
    Entry("waypoint", "find", "taskdb.cli.waypoints.waypoint", "find", "Find waypoints by code, name, kind or nearness."),
    Entry("waypoint", "show", "taskdb.cli.waypoints.waypoint", "show", "Show everything known of one waypoint."),
    Entry("waypoint", "add", "taskdb.cli.waypoints.editing", "add", "Add a waypoint to a set.", writes=True),
    Entry("waypoint", "edit", "taskdb.cli.waypoints.editing", "edit", "Change what is given of a waypoint; the rest stays.", writes=True),
    Entry("waypoint", "retire", "taskdb.cli.waypoints.editing", "retire", "Retire a waypoint; its states stay.", writes=True),
    Entry("waypoint", "restore", "taskdb.cli.waypoints.editing", "restore", "Bring a retired waypoint back, or set one back to an earlier state.", writes=True),
    Entry("check", "run", "taskdb.cli.checks.check", "run", "Check a set: every suspected fault with its evidence and its mend."),
    Entry("check", "rules", "taskdb.cli.checks.check", "rules", "List the rules with what each looks for."),
    Entry("check", "explain", "taskdb.cli.checks.check", "explain", "Explain a rule: what it finds, why that matters, how to mend it."),
    Entry("check", "list", "taskdb.cli.checks.check", "list_", "List the findings that were accepted, by whom and why."),
    Entry("check", "accept", "taskdb.cli.checks.check", "accept", "Keep findings quiet until one of their values changes.", writes=True),
    Entry("check", "fix", "taskdb.cli.checks.check", "fix", "Take the mends of findings, as one revision.", writes=True),
    Entry("check", "merge", "taskdb.cli.checks.check", "merge", "Join two duplicates: KEEP stays and takes what it lacks from DROP, which is retired.", writes=True),
    Entry("airspace", "import", "taskdb.cli.airspace.airspace", "import_", "Import a file of volumes into an airspace.", writes=True),
    Entry("airspace", "add", "taskdb.cli.airspace.airspace", "add", "Draw a volume through points, or round one.", writes=True),
    Entry("airspace", "retire", "taskdb.cli.airspace.airspace", "retire", "Retire a volume; earlier revisions keep it.", writes=True),
    Entry("airspace", "list", "taskdb.cli.airspace.airspace", "list_", "List the airspaces with their newest revisions."),
    Entry("airspace", "show", "taskdb.cli.airspace.airspace", "show", "Show an airspace at a revision with its volumes."),
    Entry("airspace", "log", "taskdb.cli.airspace.airspace", "log", "List an airspace's revisions, newest first."),
    Entry("airspace", "diff", "taskdb.cli.airspace.airspace", "diff", "Show which volumes came, went, moved, grew or changed their limits."),
    Entry("airspace", "export", "taskdb.cli.airspace.airspace", "export", "Write an airspace to one file."),
    Entry("contest", "new", "taskdb.cli.contests.contest", "new", "Make a contest on a set revision, with its zone defaults.", writes=True),
    Entry("contest", "zones", "taskdb.cli.contests.contest", "zones", "Change a contest's zone defaults for the roles named.", writes=True),
    Entry("contest", "pin", "taskdb.cli.contests.contest", "pin", "Move a contest to a set revision.", writes=True),
    Entry("contest", "day", "taskdb.cli.contests.contest", "day", "Keep a day's date, start, wind, speed and briefing, for all or for a class; show it with the sun.", writes=True),
    Entry("contest", "procedure", "taskdb.cli.contests.settings", "procedure", "Set a contest's start, finish and day; each value may be `default`.", writes=True),
    Entry("contest", "briefing", "taskdb.cli.contests.settings", "briefing", "Set what pilots are told: times, programme, telephone, finish, landing, remarks.", writes=True),
    Entry("contest", "limits", "taskdb.cli.contests.settings", "limits", "Set the speeds and limits that reviews hold tasks against, and the triangle's.", writes=True),
    Entry("contest", "classes", "taskdb.cli.contests.settings", "classes", "Set a contest's classes with the slowest and fastest speeds expected in them.", writes=True),
    Entry("contest", "edit", "taskdb.cli.contests.settings", "edit", "Change a contest's name, site, dates, time zone, airspace, earth model or units.", writes=True),
    Entry("contest", "copy", "taskdb.cli.contests.settings", "copy", "Make next season's contest from an old one.", writes=True),
    Entry("contest", "log", "taskdb.cli.contests.settings", "log", "List a contest's revisions, newest first."),
    Entry("contest", "presets", "taskdb.cli.contests.settings", "presets", "List the presets for `contest new`, or show one with its sources."),
    Entry("contest", "show", "taskdb.cli.contests.contest", "show", "Show a contest: its set, its zone defaults, its rules, what is stale."),
    Entry("contest", "list", "taskdb.cli.contests.contest", "list_", "List the contests."),
    Entry("task", "new", "taskdb.cli.tasks.task", "new", "Make a task from points in order, with its zones.", writes=True),
    Entry("task", "import", "taskdb.cli.tasks.importing", "import_", "Take tasks from a file or a folder of files, in any open format that is read.", writes=True),
    Entry("task", "edit", "taskdb.cli.tasks.task", "edit", "Change a task as a new revision.", writes=True),
    Entry("task", "show", "taskdb.cli.tasks.task", "show", "Show a task: points, zones, legs, distances, shape, time, and whether it is stale."),
    Entry("task", "list", "taskdb.cli.tasks.task", "list_", "List the tasks, of one contest or of the whole store."),
    Entry("task", "log", "taskdb.cli.tasks.task", "log", "List a task's revisions, newest first."),
    Entry("task", "copy", "taskdb.cli.tasks.task", "copy", "Copy a task under a new name in the same contest.", writes=True),
    Entry("task", "retire", "taskdb.cli.tasks.task", "retire", "Retire a task; its revisions and records stay.", writes=True),
    Entry("task", "restore", "taskdb.cli.tasks.task", "restore", "Bring a retired task back, or make a revision equal to NAME@R.", writes=True),
    Entry("task", "compare", "taskdb.cli.tasks.task", "compare", "Hold two to six tasks side by side against the first."),
    Entry("task", "review", "taskdb.cli.tasks.checking", "review", "Review tasks before they are flown: zones, legs, times, points, twins."),
    Entry("task", "fingerprint", "taskdb.cli.tasks.task", "fingerprint", "Say a task's fingerprint, to compare over the radio."),
    Entry("task", "check", "taskdb.cli.tasks.checking", "check", "Hold a fingerprint, or a file of any format that is read, against the official task."),
    Entry("task", "find", "taskdb.cli.tasks.finding", "find", "Find tasks by what they are and how they were flown."),
    Entry("task", "propose", "taskdb.cli.tasks.proposing", "propose", "Propose tasks that a set offers from a place: weighed, and ten of the best that differ.", writes=True),
    Entry("task", "choose", "taskdb.cli.tasks.flown", "choose", "Issue a variant, and mark what it replaces.", writes=True),
    Entry("task", "cancel", "taskdb.cli.tasks.flown", "cancel", "Mark a task as cancelled.", writes=True),
    Entry("task", "flown", "taskdb.cli.tasks.flown", "flown", "Keep how a task was flown on a day, or show it.", writes=True),
    Entry("task", "cover", "taskdb.cli.tasks.cover", "cover", "Say from where on the course a landable place is in reach of a straight glide."),
    Entry("task", "path", "taskdb.cli.tasks.path", "path", "Say where to turn in the areas for a wanted length."),
    Entry("task", "fit", "taskdb.cli.tasks.fitting", "fit", "Find radii for the areas by which the minimum time suits slow and fast.", writes=True),
    Entry("task", "carry", "taskdb.cli.tasks.carrying", "carry", "Carry tasks over to another set or revision, point by point.", writes=True),
    Entry("task", "refresh", "taskdb.cli.tasks.carrying", "refresh", "Bring stale tasks up to the set revision and zone defaults that count now.", writes=True),
    Entry("task", "update", "taskdb.cli.tasks.carrying", "update", "After a mended coordinate: pin a contest's set and refresh a day's tasks.", writes=True),
    Entry("flight", "read", "taskdb.cli.flights.flight", "read", "Read flight logs: which task each flight flew, when and how fast, and how far the others came.", writes=True),
    Entry("flight", "places", "taskdb.cli.flights.flight", "places", "Show where gliders stood on the ground, against the waypoints of a set."),
    Entry("export", "task", "taskdb.cli.handing_out.export", "export_task", "Write tasks to files, with a manifest."),
    Entry("export", "set", "taskdb.cli.handing_out.export", "export_set", "Write sets to files, with a manifest."),
    Entry("export", "verify", "taskdb.cli.handing_out.export", "verify", "Compare an export with its manifest."),
    Entry("handout", "", "taskdb.cli.handing_out.export", "handout", "Write a day's tasks in every format, with sheet, maps, points and what changed.", writes=True),
    Entry("publish", "", "taskdb.cli.handing_out.publish", "publish", "Write a set or a contest as pages for members, which open from a stick without a network."),
    Entry("sheet", "", "taskdb.cli.handing_out.export", "sheet", "Write the task sheet: one page a task, with its map and its zones for thumbs."),
    Entry("store", "info", "taskdb.cli.store.store", "info", "Show which store is used, its schema, and what it holds."),
    Entry("store", "upgrade", "taskdb.cli.store.store", "upgrade", "Bring the store to the newest schema.", writes=True),
    Entry("store", "backup", "taskdb.cli.store.keeping", "backup", "Copy the store into a file while it is in use.", writes=True),
    Entry("store", "verify", "taskdb.cli.store.keeping", "verify", "Hold the store's file, rows and measured tasks against its own rules."),
    Entry("store", "dump", "taskdb.cli.store.keeping", "dump", "Write the whole store as text that either engine can load.", writes=True),
    Entry("store", "load", "taskdb.cli.store.keeping", "load", "Fill a new, empty store from a dump.", writes=True),
    Entry("undo", "", "taskdb.cli.store.store", "undo", "Undo your newest operation, or operation OP of `taskdb log`.", writes=True),
    Entry("log", "", "taskdb.cli.store.store", "log", "Show what was written into the store, newest first."),
    Entry("completion", "", "taskdb.cli.frame.completion", "completion", "Print the script that sets up shell completion."),
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
