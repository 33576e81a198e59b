"""Waypoints for people: the table of a list, and the card of one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import Waypoint
    from taskdb.services.waypoints import StateShown


def waypoint_table(
    printer: Printer, rows: Sequence[tuple[Waypoint, float | None]], sets: Sequence[str] | None = None
) -> None:
    """Show waypoints, with the distance in metres where one was asked for and the set where there are several."""
    far = any(distance is not None for _, distance in rows)
    columns: list[Column | str] = ["code", "name", "position", Column("elevation", right=True), "landable", "feature"]
    if far:
        columns.append(Column("distance", right=True))
    if sets is not None:
        columns.append("set")
    table = []
    for number, (waypoint, distance) in enumerate(rows):
        row: list[str | None] = [
            waypoint.code,
            waypoint.name,
            numbers.position(waypoint.position),
            None if waypoint.elevation_m is None else f"{waypoint.elevation_m:.0f} m",
            waypoint.landable,
            waypoint.feature,
        ]
        if far:
            row.append(numbers.short_distance(distance, printer.units))
        if sets is not None:
            row.append(sets[number])
        table.append(row)
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
            ("elevation", numbers.elevation(waypoint.elevation_m)),
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


def show_history(printer: Printer, set_name: str, states: Sequence[StateShown]) -> None:
    """Show what each revision changed of one waypoint, oldest first."""
    from taskdb.core.history.changes import changed_fields

    printer.heading(f"{states[-1].waypoint.code}  {states[-1].waypoint.name}")
    rows = []
    before: Waypoint | None = None
    for state in states:
        if before is None:
            said = (
                f"added as {state.waypoint.code} {state.waypoint.name} at {numbers.position(state.waypoint.position)}"
            )
        else:
            said = "; ".join(
                _change(printer, before, state.waypoint, f) for f in changed_fields(before, state.waypoint)
            )
        rows.append((f"{set_name}@{state.valid_from}", state.at, state.author, said or "back", state.note))
        before = state.waypoint
    printer.table(["since", "at", "by", "what", "note"], rows)
    if states[-1].valid_to is not None:
        printer.line(f"retired in {set_name}@{states[-1].valid_to}", style="warning")


def _change(printer: Printer, before: Waypoint, after: Waypoint, name: str) -> str:
    from taskdb.core.geodesy import bearing_deg, distance_m

    if name != "position":
        return f"{name} {getattr(before, name)} → {getattr(after, name)}"
    off = numbers.short_distance(distance_m(before.position, after.position), printer.units)
    return f"moved {off} towards {numbers.course(bearing_deg(before.position, after.position))}"
