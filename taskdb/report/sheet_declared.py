"""What the sheet of a declared course adds: distances by both kinds of zones, loss of height, and blanks to fill in.

The words promise nothing: the Sporting Code in force and an official observer decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.course.declared import LONG_FLIGHT_M, ByZones, DeclaredCourse, ends_words
from taskdb.core.quantities import Units, format_distance

BLANKS = (
    "Pilot", "Glider, registration", "Flight recorder, serial number", "Official observer, number",
    "Start, finish height (m)", "Loss of height (m)", "Evidence (files)", "Date, time (UTC), signatures",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DeclaredBlock:
    """Rows (what, figure, words beside it), sentences, and the blanks that are filled in by hand."""

    rows: tuple[tuple[str, str, str], ...]
    sentences: tuple[str, ...]
    blanks: tuple[str, ...] = BLANKS


def declared_block(declared: DeclaredCourse | None, units: Units) -> DeclaredBlock | None:
    """Return what a declared course needs on paper; None for any other type of task."""
    if declared is None:
        return None
    rows = tuple(_row(way, units) for way in (declared.sectors, declared.cylinders))
    if declared.ends:
        rows = (*rows, _ends_row(declared, units))
    within = [f"{award.name} ({_by(award.by_sectors, award.by_cylinders)})" for award in declared.awards]
    said = [f"Within reach by its geometry: {'; '.join(within)}."] if within else ["No award is within its reach."]
    said += [f"But {obstacle}." for obstacle in declared.obstacles]
    said.append(
        "A contest's tolerance between start and finish does not hold for badges and records. This sheet is no "
        "declaration: that is what is in the recorder before take-off."
    )
    return DeclaredBlock(rows, tuple(said))


def _ends_row(declared: DeclaredCourse, units: Units) -> tuple[str, str, str]:
    """Return how start and finish are counted in both distances: what comes off in all, and each in words."""
    metres = sum(end.metres for end in declared.ends)
    said = f"{ends_words(declared, units)}; by cylinders each turn point takes 0.5 km off both its legs"
    return "In both for start and finish", f"−{format_distance(metres, units)}" if metres else "nothing off", said


def _by(sectors: bool, cylinders: bool) -> str:
    if sectors and cylinders:
        return "by sectors and by cylinders"
    return "by sectors only" if sectors else "by cylinders only"


def _row(way: ByZones, units: Units) -> tuple[str, str, str]:
    loss = f"loss of height that costs nothing: at most {way.allowed_loss_m:.0f} m"
    if way.distance_m > LONG_FLIGHT_M:
        loss += ", each metre more takes 100 m off"
    else:
        loss += ", more voids the performance"
    return f"Distance by {way.zones}", format_distance(way.distance_m, units), loss
