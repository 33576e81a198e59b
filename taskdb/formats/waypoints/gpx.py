"""Waypoints as GPX: 1.1 is written, 1.1 and 1.0 are read, way points or else the points of routes.

Each written point bears its code as `name` and its name as `desc`, for programs and instruments; an extension of our
own, `waypoint` in the namespace `urn:taskdb:waypoint:1`, holds all fields as attributes under the names of the CSV, so
that reading back gives the same waypoints. What else a point held is kept and written out again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any, BinaryIO

from taskdb.core.model import Waypoint
from taskdb.core.notation import Notation
from taskdb.core.numbers import counted, plain_number
from taskdb.errors import InputError
from taskdb.formats.exported import coordinate, format_elevation, in_order
from taskdb.formats.limits import require_found
from taskdb.formats.markup.gpx import GPX_10, GPX_11, GPX_NAMESPACES, require_gpx
from taskdb.formats.markup.xml import Node, element, maybe, node_lines, read_xml, write_document
from taskdb.formats.text.intake import ReadOptions, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.table import Gathered, ToldHeaders, gathered_table
from taskdb.formats.waypoints.csv import HEADER, plain_row
from taskdb.formats.waypoints.extras import extras_of, extras_text, kept_nodes, lines_among, node_plain, noting_others

WAYPOINT_NAMESPACE = "urn:taskdb:waypoint:1"

_OWN_FIELDS = tuple(name for name in HEADER if name not in ("latitude_deg", "longitude_deg", "elevation_m"))
_CONSUMED = ("ele", "name", "desc", "src", "extensions", "url", "urlname")
_TRACKS_HINT = "A track is what was flown or walked, and no list of waypoints; save the places as way points."
# The order of children is the schema's (wptType); what is not in it has no place in a written file.
_BEFORE = ("time", "magvar", "geoidheight")
_AFTER = ("link", "sym", "type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid")


def read_gpx(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the waypoints of a GPX file; route points where it has no way points. InputError for what is no GPX."""
    points: dict[str, list[Gathered]] = {"wpt": [], "rtept": []}
    named = ToldHeaders(options)
    left = Counter[str]()

    def take(node: Node, _: Sequence[Node]) -> bool:
        if node.namespace in GPX_NAMESPACES:
            if node.name in points:
                points[node.name].append(_gather(node, named))
                return True
            if node.name in ("trk", "trkpt"):
                left[node.name] += 1
                require_found(len(points["wpt"]) + len(points["rtept"]), left["trkpt"], "waypoints", "no-waypoints")
            return node.name == "trkpt"
        return False

    root, encoding = read_xml(stream, take)
    require_gpx(root, "Leave out --format gpx.")
    rows, notes = points["wpt"], []
    if rows and points["rtept"]:
        notes.append(f"{len(points['rtept'])} route points left aside: the file has way points")
    if not rows:
        rows, dropped = _distinct(points["rtept"])
        notes += ["points of its routes, since it has no way points"] if rows else []
        notes += [f"{dropped} points that come again in a route taken once"] if dropped else []
    tracks = f"{counted(left['trk'], 'track')} of {counted(left['trkpt'], 'point')}" if left["trk"] else ""
    if not rows:
        has = f", only {tracks}" if tracks else ""
        raise InputError("no-waypoints", f"The GPX file has no way points and no routes{has}.", hint=_TRACKS_HINT)
    notes += [f"{tracks} left aside"] if tracks else []
    version = "1.0" if root.namespace == GPX_10 else "1.1"
    notes.insert(0, f"GPX {root.attributes.get('version', version)}")
    table = gathered_table(rows, format="gpx", encoding=encoding, notes=tuple(notes), notation=Notation.DECIMAL)
    return interpret(table, options)


def _gather(node: Node, named: ToldHeaders) -> Gathered:
    at = {name: plain_number(node.attributes.get(name, "").strip(), only_numbers=True) for name in ("lat", "lon")}
    cells = {"latitude_deg": at["lat"], "longitude_deg": at["lon"]}
    cells["elevation_m"] = plain_number(node.value("ele"), only_numbers=True)
    cells["name"] = node.value("name")
    cells["description"] = node.value("desc") or node.value("cmt")
    cells["source"] = node.value("src")
    kept: dict[str, Any] = {}
    extensions = node.find("extensions")
    foreign, is_own = [], False
    for child in () if extensions is None else extensions.children:
        if child.namespace == WAYPOINT_NAMESPACE and child.name == "waypoint":
            cells |= {name: child.attributes.get(name, "") for name in (*_OWN_FIELDS, "identity")}
            is_own = True
        else:
            foreign.append(node_plain(child))
            if named:
                cells |= {one.name: one.text.strip() for one in (child, *child.every()) if one.name in named}
    elements = [node_plain(child) for child in node.children if child.name not in _CONSUMED]
    if named:
        cells |= {child.name: child.text.strip() for child in node.children if child.name in named}
    if node.value("url"):
        elements.append(_link(node))
    if is_own:
        # In our own files these two only repeat what the extension says.
        elements = [e for e in elements if e[1] != "cmt" and (e[1] != "type" or e[3] not in _kinds(cells))]
    elif not node.value("desc"):
        elements = [e for e in elements if e[1] != "cmt"]
    if elements:
        kept["elements"] = elements
    if foreign:
        kept["extensions"] = foreign
    return Gathered(node.line, cells, extras_text("gpx", kept))


def _kinds(cells: dict[str, str]) -> tuple[str, str]:
    return cells.get("landable", ""), cells.get("feature", "")


def _link(node: Node) -> list[Any]:
    """Return the `link` of GPX 1.1 for the `url` and `urlname` of 1.0."""
    named = [[GPX_11, "text", {}, node.value("urlname"), []]] if node.value("urlname") else []
    return [GPX_11, "link", {"href": node.value("url")}, "", named]


def _distinct(rows: list[Gathered]) -> tuple[list[Gathered], int]:
    """Return route points, each once: a start that is the finish comes twice in its route."""
    seen: dict[tuple[str, str, str], Gathered] = {}
    for row in rows:
        seen.setdefault((row.cells["name"], row.cells["latitude_deg"], row.cells["longitude_deg"]), row)
    return list(seen.values()), len(rows) - len(seen)


def write_gpx(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code and return what the format could not hold."""
    lost: set[str] = set()
    attributes = {"xmlns": GPX_11, "xmlns:t": WAYPOINT_NAMESPACE, "version": "1.1", "creator": "taskdb"}
    points = (_point(waypoint, identity) for waypoint in noting_others(in_order(waypoints), "gpx", lost))
    write_document(stream, [("gpx", attributes)], chain.from_iterable(points))
    return tuple(lost)


def _point(waypoint: Waypoint, identity: bool) -> list[str]:
    row = dict(zip(HEADER, plain_row(waypoint), strict=True))
    own: dict[str, str | None] = {name: row[name] or None for name in _OWN_FIELDS}
    own["code"], own["name"] = waypoint.code, waypoint.name
    if identity:
        own["identity"] = waypoint.identity
    kept = extras_of(waypoint, "gpx")
    elements = kept_nodes(kept, "elements")
    extension = element("t:waypoint", None, own)
    for node in kept_nodes(kept, "extensions"):
        extension += node_lines(node, GPX_11)
    lines = maybe("ele", format_elevation(waypoint.elevation_m))
    lines += _among(elements, _BEFORE)
    lines += [*element("name", waypoint.code), *maybe("desc", waypoint.name), *maybe("src", waypoint.source)]
    kind = row["landable"] if row["landable"] not in ("", "no") else row["feature"]
    has_type = any(node.name == "type" for node in elements)
    for name in _AFTER:
        lines += maybe("type", kind) if name == "type" and not has_type else _among(elements, (name,))
    lines += element("extensions", extension)
    position = waypoint.position
    return element("wpt", lines, {"lat": coordinate(position.latitude_deg), "lon": coordinate(position.longitude_deg)})


def _among(nodes: Sequence[Node], names: Sequence[str]) -> list[str]:
    return lines_among(nodes, names, GPX_NAMESPACES.__contains__, GPX_11)
