"""Proposals for people: each with its course, its length, its score, and what speaks for and against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import GAP
from taskdb.cli.render.tasks import CAUTION
from taskdb.core.kinds import ProposedShape
from taskdb.core.proposing.words import (
    areas_words,
    asked_words,
    chosen_words,
    figure_words,
    left_out_words,
    reasons,
    suited_words,
    tried_words,
    weighed_words,
)

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.proposal_values import Proposal, Proposed

_MOST_ALIKE = 3


def show_proposed(printer: Printer, found: Proposed, *, is_kept: bool = False) -> None:
    """Show what was found: how many, the proposals, by what they were weighed and what could not count.

    `is_kept`: tasks or a page were asked for, which are not made of nothing.
    """
    asked = asked_words(found.shape, found.start, found.least_m, found.most_m, printer.units)
    printer.heading(f"{asked}, from {found.home.code} {found.home.name}")
    printer.line(f"{_counted(found.total, 'course')} over {_counted(found.candidates, 'turn point')} of {found.set_at}")
    tried = found.areas
    if tried is not None and tried.asked is not None:
        printer.line(suited_words(tried.asked, printer.units))
        printer.line(tried_words(tried.tried, tried.too_long, tried.too_short, tried.time_that_fits_s))
    if not found.proposals:
        printer.line(_why_none(found))
        if is_kept:
            printer.line("So no task is made, and no page is written.", style="warning")
        for note in found.notes:
            printer.line(note, style="dim")
        return
    printer.line()
    for number, proposal in enumerate(found.proposals, start=1):
        _show_proposal(printer, found, proposal, number)
    if found.proposals[0].score is not None:
        printer.line()
        chosen = (len(found.proposals), found.total, found.apart_m, printer.units)
        printer.line(chosen_words(*chosen, is_fewer=found.is_fewer, is_fitted=found.areas is not None))
        for words in (weighed_words(found.weights), *left_out_words(found.left_out)):
            printer.line(words, style="dim")
    else:
        printer.shown(len(found.proposals), found.total, "courses")
    if found.saved:
        last = f" to {found.saved[-1]}" if len(found.saved) > 1 else ""
        printer.line(f"kept as {found.saved[0]}{last}", style="good")
    if found.page is not None:
        printer.line(f"The page lies in {found.page.path}.", style="good")
    for note in found.notes:
        printer.line(note, style="dim")
    printer.line(CAUTION, style="dim")


def _counted(number: int, singular: str) -> str:
    """Return `1 course`, `167,445 courses`."""
    return f"{number:,} {singular}{'' if number == 1 else 's'}"


def _why_none(found: Proposed) -> str:
    if found.candidates == 0:
        return "No waypoint of the set may be a turn point: what is asked of them leaves none."
    if found.areas is not None and found.areas.tried:
        return "None: choose another time, other speeds, or another --distance."
    return "None: widen --distance, or ask less of turn points and courses."


def _show_proposal(printer: Printer, found: Proposed, proposal: Proposal, number: int) -> None:
    length = numbers.distance(proposal.distance_m, printer.units)
    told = [f"{number:2d}", str(length), " ".join(proposal.codes)]
    if proposal.score is None:
        printer.line(GAP.join(told[1:]))
        return
    told.insert(1, f"{proposal.score:.2f}")
    if found.shape is ProposedShape.FAI_TRIANGLE:
        told.append(f"margin {proposal.margin_percent:.1f} %")
    printer.line(GAP.join(told))
    printer.line(f"      {' – '.join(place.name for place in proposal.places[1:-1])}")
    turn_points = len(proposal.codes) - 2
    for sign, names in zip("+−", reasons(proposal.values, found.usual, found.weights), strict=True):
        if names:
            words = (figure_words(name, proposal.figures[name], turn_points, printer.units) for name in names)
            printer.line(f"      {sign} {', '.join(words)}")
    if proposal.areas is not None:
        areas = proposal.areas
        printer.line(f"      {areas_words(areas.sizes_text[1], areas.fit.figures, printer.units)}")
    if proposal.like:
        printer.line(f"      like {', '.join(proposal.like[:_MOST_ALIKE])}", style="dim")
