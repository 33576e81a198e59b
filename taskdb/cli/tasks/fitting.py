"""`taskdb task fit`: radii for the areas by which the minimum time suits slow and fast."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.options import DURATION, SPEED, STEP, WIND, fields_of
from taskdb.cli.typed.zone_options import numbered
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence


@command("task fit", writes=True)
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@click.option("--slowest", "slowest_kmh", type=SPEED, metavar="V", help="Average in still air; default: the class's.")
@click.option("--fastest", "fastest_kmh", type=SPEED, metavar="V", help="Average in still air; default: the class's.")
@click.option("--wind", type=WIND, metavar="W", help="E.g. 240/15kt; default: that of the day.")
@click.option("--time", "time_s", type=DURATION, metavar="T", help="Minimum time; default: the task's.")
@click.option("--each", is_flag=True, help="Radii in proportion to what they are now.")
@click.option("--share", "shares", multiple=True, metavar="N=S", help="Area N gets S shares, e.g. 1=2; others get 1.")
@click.option("--keep", "kept", multiple=True, type=click.IntRange(min=0), metavar="N", help="Area N keeps its zone.")
@click.option("--step", type=STEP, default="1km", show_default=True, help="Radii in whole steps: 1km, 1mi, 1nmi.")
@click.option("--save", "variant", metavar="VARIANT", help="Make a variant of the task with the radii found.")
@contest_option
def fit(invocation: Invocation, reference: str, variant: str | None, **given: Any) -> Answer:
    """Find radii for the areas by which the minimum time suits slow and fast.

    The slowest over the minimum distance need at most the minimum time, the fastest over the maximum at least it: the
    smallest whole step at which both hold, in the wind along each leg. Areas stay apart, and hold neither start nor
    finish. Of a ring or a segment the outer radius is sized.

    Often the time has to change and not the radii: it says which times would do.
    """
    from taskdb.cli.render.fitted import show_fitted
    from taskdb.services.tasks.fitting import FitRequest, fit_task, save_fit
    from taskdb.services.tasks.plain import fitted_plain

    contest = invocation.contest(given["contest"])
    request = FitRequest(**{**fields_of(FitRequest, given), "shares": _shares(given["shares"])})
    if variant is None:
        found = fit_task(invocation.desk, reference, request, contest)
    else:
        found = invocation.confirmed(
            lambda write: save_fit(invocation.desk, reference, request, variant, write, contest)
        )
    return Answer(fitted_plain(found), people=lambda printer: show_fitted(printer, found))


def _shares(words: Sequence[str]) -> dict[int, float]:
    """Return the share of each area named. UsageError for one that is no number above 0."""
    shares = {}
    for number, text in numbered(words, option="--share", form="N=S"):
        try:
            share = float(text)
        except ValueError:
            share = 0.0
        if not 0 < share < 1e6:
            raise UsageError(
                "bad-value", f"--share: {text!r} is no share above 0.", hint="E.g. --share 1=2 --share 2=1."
            )
        shares[number] = share
    return shares
