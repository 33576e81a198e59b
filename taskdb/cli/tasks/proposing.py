"""`taskdb task propose`: which tasks a set offers from a place, weighed, and some of the best that differ."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.cover_options import cover_asked, glide_options
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.filter_options import Directions, Ends
from taskdb.cli.typed.options import (
    DATE,
    DISTANCE,
    DURATION,
    SPEED,
    STEP,
    TARGET,
    OneOf,
    airspace_option,
    assignments,
    fields_of,
    terrain_option,
    together,
)
from taskdb.cli.typed.setting_options import day_options
from taskdb.core.kinds import Earth, Feature, HomeAt, Landable, ProposedShape
from taskdb.core.proposing.criteria import CRITERIA
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.services.tasks.proposal_values import AreasRequest

course_options = together(
    click.option(
        "--from", "home", required=True, metavar="REF", shell_complete=names_of("waypoint"),
        help="Home: start and finish.",
    ),
    click.option("--shape", required=True, type=OneOf(ProposedShape), help="The shape of the course."),
    click.option(
        "--distance", "distance_m", required=True, type=Ends(DISTANCE.parse), metavar="A..B",
        help="How long it is, e.g. 290km..310km.",
    ),
    click.option(
        "--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="The set of its points."
    ),
    click.option(
        "--start", type=OneOf(HomeAt), default="corner", show_default=True, help="Where home lies on a triangle."
    ),
    click.option(
        "--within", "within_m", type=DISTANCE, default="5km", show_default=True, metavar="D",
        help="Home on a side: at most so far off it.",
    ),
    click.option(
        "--least-share", "least_share_percent", type=click.FloatRange(0, 50), metavar="N",
        help="Each leg has at least so many percent of the course.  [default: 15 for quadrilaterals]",
    ),
    click.option("--earth", type=OneOf(Earth), help="Measured on this model.  [default: the contest's, else wgs84]"),
)  # fmt: skip
"""Adds what courses are searched for: from where, of which shape, how long, over which set."""

admitting_options = together(
    click.option(
        "--feature", "features", multiple=True, type=OneOf(Feature), help="Turn points that mark this; again for more."
    ),
    click.option("--landable", multiple=True, type=OneOf(Landable), help="Turn points that are this; again for more."),
    click.option("--inspected-since", type=DATE, metavar="DATE", help="Turn points inspected on this day or later."),
    click.option(
        "--avoid", multiple=True, metavar="NAME[:VOLUME]", shell_complete=names_of("airspace"),
        help="No leg through this airspace; again for more.",
    ),
    click.option(
        "--heading", type=Directions(), metavar="270..330", help="First leg in these directions, clockwise, true."
    ),
    click.option("--heading-home", type=Directions(), metavar="270..330", help="Last leg in these directions."),
    click.option(
        "--farthest", "farthest_m", type=DISTANCE, metavar="D", help="No turn point farther from home than this."
    ),
    click.option(
        "--most-out", "most_out_m", type=DISTANCE, metavar="D", help="At most so much of the course out of reach."
    ),
)  # fmt: skip
"""Adds what a course must be to be admitted."""

choosing_options = together(
    click.option(
        "--weigh", multiple=True, metavar="CRITERION=N", help="Count this so much; 0 leaves it out; again for more."
    ),
    click.option(
        "--apart", "apart_m", type=DISTANCE, default="20km", show_default=True, metavar="D",
        help="Of any two shown, some point lies so far from all points of the other.",
    ),
    click.option(
        "--limit", type=click.IntRange(min=1), metavar="N", help="Show at most N.  [default: 10; with --all all]"
    ),
    click.option("--all", "show_all", is_flag=True, help="List every course in order of codes, without scores."),
    click.option("--to", type=TARGET, metavar="FILE.html|.svg", help="Write a page of their maps."),
    click.option("--save", metavar="PREFIX", help="Make those shown tasks: PREFIX 1, PREFIX 2, …"),
)  # fmt: skip
"""Adds how some of all courses are chosen, and what becomes of them."""

areas_options = together(
    click.option(
        "--type", "has_areas", type=OneOf({"racing": False, "assigned-area": True}), default="racing",
        help="assigned-area: areas in place of turn points, of one radius that suits.",
    ),
    click.option("--time", "time_s", type=DURATION, metavar="T", help="Of areas: the minimum time, e.g. 3:00."),
    click.option(
        "--slowest", "slowest_kmh", type=SPEED, metavar="V", help="Of areas: the slowest.  [default: the class's]"
    ),
    click.option(
        "--fastest", "fastest_kmh", type=SPEED, metavar="V", help="Of areas: the fastest.  [default: the class's]"
    ),
    click.option("--step", type=STEP, metavar="D", help="Of areas: radii in whole steps.  [default: 1km]"),
)  # fmt: skip
"""Adds what areas are fitted to: a minimum time, and who flies how fast."""


@command(
    "task propose",
    writes=True,
    ends=f"Criteria and their weights: {', '.join(f'{one.name} {one.weight:g}' for one in CRITERIA)}.",
)
@course_options
@admitting_options
@glide_options
@terrain_option
@choosing_options
@areas_options
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="The contest's day that is planned.")
@click.option("--class", "class_name", metavar="C", help="The contest's class that flies.")
@airspace_option
@contest_option
@day_options
def propose(invocation: Invocation, distance_m: Any, **given: Any) -> Answer:
    """Propose tasks that a set offers from a place: weighed, and ten of the best that differ.

    For example, on a day with wind from the west:

      taskdb task propose --from HOME --shape fai-triangle --distance 290km..310km --wind 270/20km/h

    Wind, times, airspace and limits are those of the contest's day, where a contest is named; given here they go before
    them. What is not known does not count, and is said. The figures rank courses: whether one can be flown on the day
    the task setter decides.
    """
    from taskdb.cli.render.proposals import show_proposed
    from taskdb.core.contests.days import DayChange
    from taskdb.services.tasks.proposal_plain import proposed_plain
    from taskdb.services.tasks.proposal_values import ProposalRequest
    from taskdb.services.tasks.proposing import propose_tasks

    if distance_m.low is None or distance_m.high is None:
        raise UsageError("bad-range", "--distance: both ends are needed.", hint="E.g. --distance 290km..310km.")
    contest = given["contest"] if given["set_reference"] is not None else invocation.contest(given["contest"])
    day = DayChange(**{name: given[name] for name in ("date", "start_opens", "wind", "speed_kmh")})
    request = ProposalRequest(
        **{
            **fields_of(ProposalRequest, given),
            "contest": contest,
            "least_m": distance_m.low,
            "most_m": distance_m.high,
            "given_day": day,
            "glide": cover_asked({**given, "landable": ()}),
            "units": invocation.units,
            "overwrite": invocation.settings.yes,
            "weights": _weights(given["weigh"]),
            "areas": _areas(given),
        }
    )
    is_kept = request.save is not None or request.to is not None
    with invocation.working("searching"):
        found = invocation.confirmed(lambda write: propose_tasks(invocation.desk, request, write))
    return Answer(proposed_plain(found), people=lambda printer: show_proposed(printer, found, is_kept=is_kept))


def _areas(given: Mapping[str, Any]) -> AreasRequest | None:
    """Return what areas are fitted to, None where none are asked for. UsageError for half of it."""
    from taskdb.core.quantities import parse_step
    from taskdb.services.tasks.proposal_values import AreasRequest

    options = {"--time": "time_s", "--slowest": "slowest_kmh", "--fastest": "fastest_kmh", "--step": "step"}
    if not given["has_areas"]:
        for option, name in options.items():
            if given[name] is not None:
                raise UsageError("areas-only", f"{option} is about areas.", hint="Add --type assigned-area.")
        return None
    if given["time_s"] is None:
        raise UsageError("no-time", "Areas need a minimum time to be fitted to.", hint="Add --time, e.g. --time 3:00.")
    step = given["step"] or parse_step("1km")
    return AreasRequest(given["time_s"], step, given["slowest_kmh"], given["fastest_kmh"])


def _weights(words: tuple[str, ...]) -> dict[str, float]:
    """Return the weights that were typed by criterion. UsageError for what is no number."""
    found = {}
    for name, text in assignments(words, option="--weigh", form="CRITERION=N").items():
        try:
            found[name] = float(text)
        except ValueError:
            raise UsageError(
                "bad-weight", f"--weigh: {text!r} is no number.", hint=f"E.g. --weigh {name}=2, or 0 to leave it out."
            ) from None
    return found
