"""`taskdb contest procedure`, `limits`, `classes`, `edit`, `copy`, `log`, `presets`: what contests differ in."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from taskdb.cli.answer import Answer
from taskdb.cli.command import Invocation, command
from taskdb.cli.completion import names_of
from taskdb.cli.contest import contest_plain, show_contest_page
from taskdb.cli.options import DATE, SPEED, assignments
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.services.contests import ContestShown

F = TypeVar("F", bound=Callable[..., Any])

# Option names by setting: static, so that help loads nothing. A test holds them to the settings that there are.
PROCEDURE = {
    "start_closes": "When the start closes, local, e.g. 15:30.",
    "start_height": "Highest start, e.g. '1500m MSL'.",
    "start_speed_kmh": "Fastest start, e.g. 170km/h.",
    "event_start": "Pilot-event start: yes or no.",
    "event_wait_s": "Wait after the event, e.g. 0:10.",
    "event_window_s": "Window after the wait, e.g. 0:10.",
    "event_most": "Most events that count.",
    "finish_height": "Lowest finish, e.g. '700m MSL'.",
    "start_deduction": "Start cylinder: less-radius or to-centre.",
    "finish_deduction": "Finish cylinder: less-radius or to-centre.",
    "legal_end": "End of the legal day: sunset, sunset+30min, civil-dusk.",
    "areas_by_hand": "Areas are passed by hand: yes or no.",
}
LIMITS = {
    "shortest_leg_m": "A leg shorter than this is told, e.g. 5km.",
    "least_area_ratio": "Maximum at least so many times the minimum, e.g. 1.3.",
    "declared_short_percent": "A declared course that misses by less is told.",
    "triangle_short_percent": "A declared triangle that misses by less is told.",
    "least_daylight_s": "A last finish nearer to the legal end is told, e.g. 0:30.",
    "large_from_m": "From here on the rule for large triangles, e.g. 750km.",
    "small_shortest_percent": "Shortest side of a triangle, percent.",
    "large_shortest_percent": "Shortest side of a large triangle, percent.",
    "large_longest_percent": "Longest side of a large triangle, percent.",
    "start_on_side": "A triangle may start on a side: yes or no.",
    "closed_within_m": "Start and finish this near close a course, e.g. 1km.",
}
EDIT = {
    "earth": "Earth model: wgs84 or fai-sphere.",
    "units_distance": "Distances in km, mi or nmi.",
    "units_height": "Heights in m or ft.",
    "units_speed": "Speeds in km/h, kt or mph.",
}
_UNIT_ENDINGS = ("_m", "_s", "_kmh", "_percent")


def option_name(key: str) -> str:
    """Return a setting's option: its key without the unit, which the typed value carries."""
    for ending in _UNIT_ENDINGS:
        key = key.removesuffix(ending)
    return "--" + key.replace("_", "-")


def setting_options(table: dict[str, str]) -> Callable[[F], F]:
    """Add one option a setting; each takes `default` as well."""

    def add(function: F) -> F:
        for key, words in reversed(table.items()):
            function = click.option(option_name(key), key, metavar="VALUE", help=words)(function)
        return function

    return add


def read(table: dict[str, str], given: dict[str, Any]) -> dict[str, Any]:
    """Return the settings that were typed as plain values by key; None for `default`."""
    from taskdb.core.contest_settings import read_values

    values: dict[str, Any] = {}
    for key in table:
        if given[key] is None:
            continue
        try:
            values |= read_values({key: given[key]})
        except UsageError as error:
            raise UsageError(error.code, f"{option_name(key)}: {error.message}", hint=error.hint) from None
    return values


def page(shown: ContestShown) -> Answer:
    """Return the answer that shows a contest."""
    return Answer(contest_plain(shown), people=lambda printer: show_contest_page(printer, shown))


@command("contest procedure", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@setting_options(PROCEDURE)
@click.option("--frequency", "frequencies", multiple=True, metavar="PURPOSE=CHANNEL", help="A channel; empty: none.")
def procedure(invocation: Invocation, name: str, frequencies: tuple[str, ...], **given: Any) -> Answer:
    """Set a contest's start, finish and day; each value may be `default`.

    Saved tasks keep what they were saved with.
    """
    from taskdb.services.contest_settings import set_settings

    values = read(PROCEDURE, given)
    channels = assignments(frequencies, option="--frequency", form="PURPOSE=CHANNEL")
    _require(values or channels, "--start-closes 15:30")
    return page(invocation.confirmed(lambda write: set_settings(invocation.desk, name, values, channels, write)))


@command("contest limits", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@setting_options(LIMITS)
def limits(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Set the limits that reviews hold tasks against, and the triangle's.

    Each value may be `default`.
    """
    from taskdb.services.contest_settings import set_settings

    values = read(LIMITS, given)
    _require(values, "--shortest-leg 10km")
    return page(invocation.confirmed(lambda write: set_settings(invocation.desk, name, values, {}, write)))


@command("contest classes", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.option("--class", "classes", multiple=True, metavar="NAME=V..V", help="E.g. Club=60km/h..110km/h.")
@click.option("--drop", "dropped", multiple=True, metavar="NAME", help="Take a class out.")
def classes(invocation: Invocation, name: str, classes: tuple[str, ...], dropped: tuple[str, ...]) -> Answer:
    """Set a contest's classes with the slowest and fastest speeds expected in them."""
    from taskdb.services.contest_settings import set_classes

    _require(classes or dropped, "--class Club=60km/h..110km/h")
    made = [contest_class(word) for word in classes]
    return page(invocation.confirmed(lambda write: set_classes(invocation.desk, name, made, dropped, write)))


def contest_class(word: str) -> Any:
    """Return the class that `NAME` or `NAME=SLOWEST..FASTEST` means."""
    from taskdb.core.model import ContestClass
    from taskdb.core.names import require_name

    name, equals, speeds = word.partition("=")
    name = require_name(name, what="class")
    if not equals:
        return ContestClass(name)
    slowest, dots, fastest = speeds.partition("..")
    if not dots:
        raise UsageError("bad-range", f"--class: {speeds!r} is no range.", hint="Write Club=60km/h..110km/h.")
    low, high = (SPEED.parse(end) if end.strip() else None for end in (slowest, fastest))
    if low is not None and high is not None and low > high:
        raise UsageError("bad-range", f"--class: {speeds!r} ends before it begins.", hint="Exchange its ends.")
    return ContestClass(name, low, high)


@command("contest edit", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.option("--name", "new_name", metavar="NEW", help="Another name.")
@click.option("--site", metavar="CODE", shell_complete=names_of("waypoint"), help="Where it is held.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--timezone", metavar="TZ", help="Time zone of its times of day.")
@setting_options(EDIT)
def edit(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Change a contest's name, site, dates, time zone, earth model or units."""
    from taskdb.services.contest_settings import ContestEdit, edit_contest

    values = read(EDIT, given)
    change = ContestEdit(
        given["new_name"], given["site"], given["from_date"], given["to_date"], given["timezone"], values or None
    )
    _require(change != ContestEdit(), "--site CODE")
    return page(invocation.confirmed(lambda write: edit_contest(invocation.desk, name, change, write)))


@command("contest copy", writes=True)
@click.argument("old", metavar="OLD[@R]", shell_complete=names_of("contest"))
@click.argument("new", metavar="NEW")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="On this set revision.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--tasks", "with_tasks", is_flag=True, help="Carry its tasks over too.")
@click.option("--name", "pattern", default="{name}", metavar="PATTERN", help="Names of its tasks, e.g. '{name} 2026'.")
def copy(invocation: Invocation, old: str, new: str, **given: Any) -> Answer:
    """Make next season's contest from an old one.

    Zones, settings and classes are copied, days are not. With --tasks its tasks are carried over, each fully decided or
    left and told.
    """
    from taskdb.cli.render.carried import carried_plain, show_carried
    from taskdb.errors import ExitCode
    from taskdb.services.contest_settings import ContestCopy, copy_contest

    how = ContestCopy(
        new, given["set_reference"], given["from_date"], given["to_date"], given["with_tasks"], given["pattern"]
    )
    done = invocation.confirmed(lambda write: copy_contest(invocation.desk, old, how, write))
    for text in done.shown.told:
        invocation.warn(text)

    def people(printer: Any) -> None:
        show_contest_page(printer, done.shown)
        if done.tasks:
            printer.line()
            show_carried(printer, done.tasks)

    undone = any(outcome.revision is None for outcome in done.tasks)
    result = {**contest_plain(done.shown), "carried": [carried_plain(outcome) for outcome in done.tasks]}
    return Answer(result, people=people, exit_code=ExitCode.ACT if undone else ExitCode.DONE)


@command("contest log")
@click.argument("name", shell_complete=names_of("contest"))
def log(invocation: Invocation, name: str) -> Answer:
    """List a contest's revisions, newest first."""
    from taskdb.cli.render.console import Column
    from taskdb.services.contest_settings import contest_log

    name, revisions = contest_log(invocation.desk, name)
    result = {
        "contest": name,
        "revisions": [
            {
                "revision": logged.info.number,
                "author": logged.info.author,
                "created_at": logged.info.at,
                "note": logged.info.note,
                "retired": logged.info.retired,
                "changes": list(logged.changes),
            }
            for logged in revisions
        ],
    }

    def people(printer: Any) -> None:
        printer.heading(name)
        printer.table(
            [Column("revision", right=True), "at", "by", "what changed", "note"],
            [
                (
                    logged.info.number,
                    logged.info.at,
                    logged.info.author,
                    "; ".join(logged.changes) or None,
                    logged.info.note,
                )
                for logged in revisions
            ],
        )

    return Answer(result, people=people)


@command("contest presets")
@click.argument("name", required=False, metavar="[PRESET]")
def presets(invocation: Invocation, name: str | None) -> Answer:
    """List the presets for `contest new`, or show one with its sources."""
    from taskdb.reference.presets import preset_names, shipped_preset

    shown = [shipped_preset(item) for item in ([name] if name else preset_names())]
    result = {
        "presets": [
            {
                "preset": preset.name,
                "summary": preset.summary,
                "zones": dict(preset.zones),
                "settings": dict(preset.settings),
                "sources": dict(preset.sources),
            }
            for preset in shown
        ]
    }

    def people(printer: Any) -> None:
        if name is None:
            printer.table(["preset", "what it is"], [(preset.name, preset.summary) for preset in shown])
            return
        printer.heading(f"{shown[0].name}: {shown[0].summary}")
        values = {**shown[0].zones, **shown[0].settings}
        printer.table(["setting", "value", "source"], [(k, v, shown[0].sources[k]) for k, v in values.items()])

    return Answer(result, people=people)


def _require(given: object, example: str) -> None:
    if not given:
        raise UsageError("nothing-given", "Nothing is given to change.", hint=f"E.g. {example}.")
