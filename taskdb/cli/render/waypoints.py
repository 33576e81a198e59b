"""Waypoints for people: the table of a list, and the card of one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, right
from taskdb.core.ground import filled_by

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import SetRevisionInfo
    from taskdb.core.model import Waypoint
    from taskdb.services.waypoints.waypoint import StateShown


def waypoint_table(
    printer: Printer, rows: Sequence[tuple[Waypoint, float | None]], sets: Sequence[str] | None = None
) -> None:
    """Show waypoints, with the distance in metres where one was asked for and the set where there are several."""
    far = any(distance is not None for _, distance in rows)
    columns = ["code", "name", "position", *right("elevation"), "landable", "feature"]
    columns += right("distance") if far else []
    columns += ["set"] if sets is not None else []
    table = []
    for number, (waypoint, distance) in enumerate(rows):
        elevation = None if waypoint.elevation_m is None else f"{waypoint.elevation_m:.0f} m"
        row: list[Cell] = [waypoint.code, waypoint.name, numbers.position(waypoint.position), elevation]
        row += [waypoint.landable, waypoint.feature]
        row += [numbers.short_distance(distance, printer.units)] if far else []
        table.append([*row, sets[number]] if sets is not None else row)
    printer.table(columns, table)


def waypoint_card(printer: Printer, waypoint: Waypoint, where: str) -> None:
    """Show everything that is known of one waypoint; what is not known is left out."""
    from taskdb.core.facilities import format_radio, format_runways

    position = waypoint.position
    printer.heading(f"{waypoint.code}  {waypoint.name}  ({where})")
    printer.pairs(
        [
            ("position", numbers.position(position)),
            ("", f"{position.latitude_deg:.7f}, {position.longitude_deg:.7f}"),
            ("elevation", _elevation(waypoint)),
            ("landable", waypoint.landable),
            ("feature", waypoint.feature),
            ("country", waypoint.country),
            ("radio", format_radio(waypoint.radio) or None),
            ("runways", format_runways(waypoint.runways) or None),
            ("description", waypoint.description),
            ("source", waypoint.source),
            ("inspected", waypoint.inspected_on),
            ("identity", waypoint.identity),
        ]
    )


def _elevation(waypoint: Waypoint) -> str | None:
    told, filled = numbers.elevation(waypoint.elevation_m), filled_by(waypoint)
    return f"{told}, filled in by {filled}" if filled else told


def show_history(printer: Printer, set_name: str, states: Sequence[StateShown]) -> None:
    """Show what each revision did to one waypoint, oldest first: added, changed, retired, back."""
    from taskdb.core.history.facts import facts_of
    from taskdb.core.history.words import change_words

    newest = states[-1].waypoint
    printer.heading(f"{newest.code}  {newest.name}  ({set_name})")
    rows = []
    before: StateShown | None = None
    for state in states:
        said = []
        if before is None:
            said.append(f"added as {state.waypoint.code} {state.waypoint.name}")
            said.append(numbers.position(state.waypoint.position))
        else:
            said += ["back"] if before.is_retirement else []
            said += change_words(facts_of((before.waypoint, state.waypoint)), printer.units)
        rows.append(_row(set_name, state.began, "; ".join(said) or "unchanged"))
        if state.is_retirement and state.ended is not None:
            rows.append(_row(set_name, state.ended, "retired"))
        before = state
    printer.table(["since", "at", "by", "what", "note"], rows)


def _row(set_name: str, info: SetRevisionInfo, what: str) -> tuple[str | None, ...]:
    return f"{set_name}@{info.number}", info.at, info.author, what, info.note
