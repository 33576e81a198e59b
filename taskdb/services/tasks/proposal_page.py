"""The page of proposals with their small maps, written to a file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.core.course.measure import measure_course
from taskdb.core.kinds import ProposedShape
from taskdb.core.proposing.words import (
    asked_words,
    chosen_words,
    figure_words,
    left_out_words,
    reasons,
    sized_words,
    suited_words,
    weighed_words,
)
from taskdb.errors import UsageError
from taskdb.files.writing import require_new, write_new
from taskdb.services.tasks.proposal_values import PageWritten, Proposal, Proposed

if TYPE_CHECKING:
    from taskdb.core.model import Task
    from taskdb.core.quantities import Units
    from taskdb.report.proposals import ProposedCard
    from taskdb.services.tasks.proposal_grounds import Grounds
    from taskdb.services.tasks.proposal_values import ProposalRequest

_SUFFIXES = (".html", ".svg")


def require_page(path: str, *, overwrite: bool) -> None:
    """Raise UsageError for a file that is neither page nor map, RefusedError for one that stands already."""
    if Path(path).suffix.lower() not in _SUFFIXES:
        raise UsageError(
            "no-page", f"--to: {path} ends neither in .html nor in .svg.", hint="Name a page, or a file of maps."
        )
    require_new(path, overwrite=overwrite, details={"path": path})


def write_page(
    request: ProposalRequest, found: Proposed, grounds: Grounds, tasks: Sequence[Task], *, preview: bool
) -> PageWritten:
    """Write the page of proposals, these as tasks in the same order; a preview draws it and keeps nothing."""
    from taskdb.report.proposals import ProposalsPage, draw_proposals, render_proposals

    units = request.units
    home = f"{found.home.code} {found.home.name}"
    page = ProposalsPage(
        title=f"{asked_words(found.shape, found.start, found.least_m, found.most_m, units)}, from {home}",
        where=found.set_at,
        head=chosen_words(
            len(found.proposals),
            found.total,
            found.apart_m,
            units,
            is_fewer=found.is_fewer,
            is_fitted=found.areas is not None,
        ),
        cards=tuple(_card(found, one, task, request) for one, task in zip(found.proposals, tasks, strict=True)),
        said=(*_suited(found, units), weighed_words(found.weights), *left_out_words(found.left_out), *found.notes),
        catalogue=grounds.catalogue,
        airspace=grounds.airspace,
        units=units,
    )
    assert request.to is not None  # who writes a page has asked for it
    is_page = Path(request.to).suffix.lower() == ".html"
    content = (render_proposals if is_page else draw_proposals)(page).encode("utf-8")
    if not preview:
        write_new(request.to, content, overwrite=request.overwrite)
    return PageWritten(request.to, len(content))


def _suited(found: Proposed, units: Units) -> Iterator[str]:
    if found.areas is not None and found.areas.asked is not None:
        yield suited_words(found.areas.asked, units)


def _card(found: Proposed, proposal: Proposal, task: Task, request: ProposalRequest) -> ProposedCard:
    from taskdb.report.proposals import ProposedCard

    good, bad = (
        tuple(figure_words(name, proposal.figures[name], len(proposal.codes) - 2, request.units) for name in names)
        for names in reasons(proposal.values, found.usual, found.weights)
    )
    return ProposedCard(
        task=task,
        course=measure_course(task, touching=False),
        length_m=proposal.distance_m,
        score=proposal.score or 0.0,
        margin_percent=proposal.margin_percent if found.shape is ProposedShape.FAI_TRIANGLE else None,
        good=good,
        bad=bad,
        like=proposal.like,
        areas=None if proposal.areas is None else sized_words(proposal.areas.sizes_text[1]),
    )
