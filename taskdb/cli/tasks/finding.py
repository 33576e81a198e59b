"""`taskdb task find`: the right task found again."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.filter_options import filter_options, find_request

ORDERS = ("name", "distance", "times-flown", "last-flown", "finish-rate")


@command("task find")
@click.argument("words", nargs=-1, metavar="[TEXT]…")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Of this day.")
@filter_options
@click.option("--sort", type=click.Choice(ORDERS), help="Sort by this instead of by name.")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show at most N.")
@contest_option
def find(invocation: Invocation, words: tuple[str, ...], **given: Any) -> Answer:
    """Find tasks by what they are and how they were flown.

    All filters given must fit. --like finds courses that share points (in whatever order) and legs, or lie near.
    """
    from taskdb.cli.render.tasks import show_found_tasks
    from taskdb.core.filters.tasks import Order
    from taskdb.services.tasks.finding import find_tasks
    from taskdb.services.tasks.plain import found_plain

    order = Order(given["sort"]) if given["sort"] else None
    contest = invocation.contest(given["contest"])
    found = find_tasks(invocation.desk, find_request(given, contest, words=words, order=order, limit=given["limit"]))
    return Answer(found_plain(found), people=lambda printer: show_found_tasks(printer, found))
