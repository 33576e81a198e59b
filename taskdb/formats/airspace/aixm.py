"""Airspace from AIXM 5.1 (EUROCONTROL and FAA): the plain part of it, everything else refused by the volume's name.

Read are airspaces of one state and one component with its own geometry: rings of position lists and circles. Geodesic
edges are parted so that lines straight in longitude and latitude stay within a metre of them. Not read, and told by
name: geometry of other airspaces, borders by reference, arcs (whose direction files understand in several ways), limits
with an alternative, later changes of a state.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import BinaryIO

from taskdb.core.geodesy import EQUATOR_RADIUS_M, densify, destinations_from, distance_m
from taskdb.core.model import Position, RowProblem
from taskdb.core.quantities import FOOT_M, NAUTICAL_MILE_M
from taskdb.errors import InputError
from taskdb.formats.airspace.assembly import assemble
from taskdb.formats.airspace.reading import AirspaceOptions, AirspaceReading, RawVolume, require_volumes
from taskdb.formats.limits import MOST_POINTS, too_large
from taskdb.formats.markup.xml import Node, read_xml
from taskdb.formats.text.table import count_words

AIXM_51 = "http://www.aixm.aero/schema/5.1"
GML_32 = "http://www.opengis.net/gml/3.2"
_LATITUDE_FIRST = ("urn:ogc:def:crs:EPSG::4326", "http://www.opengis.net/def/crs/EPSG/0/4326", "EPSG:4326")
_LONGITUDE_FIRST = ("urn:ogc:def:crs:OGC:1.3:CRS84", "http://www.opengis.net/def/crs/OGC/1.3/CRS84", "CRS84")
_METRES = {"NM": NAUTICAL_MILE_M, "[nmi_i]": NAUTICAL_MILE_M, "KM": 1000.0, "M": 1.0, "FT": FOOT_M}
_WITHIN_M, _TURN_DEG, _LARGEST_M = 1.0, 1, 1_000_000.0
_LONGEST_EDGE_M = 2_000_000.0
_GEODESIC = ("GeodesicString", "Geodesic")
_STRAIGHT = ("LineStringSegment", "LinearRing")
_CIRCLE = "CircleByCenterPoint"
_THROUGH = ("Ring", "Curve", "curveMember", "segments", "ElevatedCurve")
_TIMES = "times of activation were left aside"
Place = tuple[float, float]


class _UnreadError(Exception):
    """Something of an airspace that is not read; its text says what."""


def read_aixm_airspace(stream: BinaryIO, options: AirspaceOptions) -> AirspaceReading:
    """Return the airspaces of an AIXM 5.1 message. InputError for what is none, or has no airspace."""
    raws: list[RawVolume] = []
    left = Counter[str]()
    places = aside = 0

    def take(node: Node, around: Sequence[Node]) -> bool:
        nonlocal places, aside
        is_member = bool(around) and around[-1].name in ("hasMember", "featureMember") and len(around) == 2
        if not is_member:
            return False
        if node.namespace != AIXM_51 or node.name != "Airspace":
            left[f"{node.name[:40]}(s)"] += 1
            require_volumes(len(raws), aside := aside + 1)
            return True
        raws.append(_airspace(node))
        require_volumes(len(raws), 0)
        places += sum(len(ring) for rings in raws[-1].polygons for ring in rings)
        if places > MOST_POINTS:
            raise too_large(f"has more than {MOST_POINTS:,} positions", "Split it into several files.")
        return True

    root, encoding = read_xml(stream, take)
    if root.name != "AIXMBasicMessage":
        raise InputError(
            "not-aixm", f"The file's root is {root.name[:60]!r} and no AIXM 5.1 message.", hint="Give GeoJSON or KML."
        )
    told = count_words(left)
    notes = (f"{told} left aside",) if told else ()
    return assemble(raws, options, format="aixm", encoding=encoding, notes=notes)


def _airspace(node: Node) -> RawVolume:
    """Return an airspace as a raw volume, or what of it is not read."""
    slices = list(node.each("AirspaceTimeSlice"))
    states = [one for one in slices if one.value("interpretation") in ("BASELINE", "SNAPSHOT", "")]
    shown = (states or slices or [node])[-1]
    texts = {"name": shown.value("name") or shown.value("designator"), "type": shown.value("type")}
    try:
        if len(states) != 1 or len(slices) != 1:
            raise _UnreadError(f"it has {len(slices)} states or changes in time, of which one state alone is read")
        volume = _volume(shown)
        texts["lowerLimit"] = _limit(volume, "lowerLimit")
        texts["upperLimit"] = _limit(volume, "upperLimit")
        rings = _rings(volume)
    except _UnreadError as unread:
        problem = RowProblem(node.line, "ground", None, "not-read", f"{unread}: give it as GeoJSON or KML")
        return RawVolume(node.line, texts, problem=problem)
    notes = (_TIMES,) if any(node.each("activation")) else ()
    return RawVolume(node.line, texts, [rings], short_way=True, notes=notes)


def _volume(slice_: Node) -> Node:
    components = list(slice_.each("AirspaceGeometryComponent"))
    if len(components) != 1:
        raise _UnreadError(f"it has {len(components)} components of geometry, of which one is read")
    operation = components[0].value("operation")
    if operation not in ("", "BASE"):
        raise _UnreadError(f"its geometry is a {operation[:20]} of others")
    volumes = list(components[0].each("AirspaceVolume"))
    if len(volumes) != 1 or any(volumes[0].each("contributorAirspace")):
        raise _UnreadError("its geometry is that of another airspace")
    if any(volumes[0].value(name) for name in ("minimumLimit", "maximumLimit")):
        raise _UnreadError("it has an alternative floor or ceiling")
    return volumes[0]


def _limit(volume: Node, name: str) -> str:
    """Return a limit as text with unit and reference, as `heights.parse_limit` reads it; empty where there is none."""
    limit = volume.find(name)
    if limit is None or limit.text.strip() == "":
        return ""
    value, uom = limit.text.strip(), limit.attributes.get("uom", "").upper()
    reference = volume.value(f"{name}Reference").upper()
    if value.upper() in ("GND", "UNL", "FLOOR", "CEILING"):
        return value if value.upper() in ("GND", "UNL") else f"{value} of others"
    if uom == "FL":
        return f"FL{value.lstrip('0') or '0'}" if reference in ("", "STD") else f"FL{value} {reference}"
    if value.strip("0") == "" and reference == "SFC":
        return "GND"
    return f"{value}{uom.lower()} {reference}".strip()


def _rings(volume: Node) -> list[list[Place]]:
    surfaces = [node for node in volume.every() if node.name == "Surface" and node.namespace == AIXM_51]
    if len(surfaces) != 1:
        raise _UnreadError(f"it has {len(surfaces)} surfaces, of which one is read")
    patches = [node for node in surfaces[0].every() if node.namespace == GML_32 and node.name == "PolygonPatch"]
    if len(patches) != 1:
        raise _UnreadError(f"its surface has {len(patches)} patches, of which one is read")
    inherited = surfaces[0].attributes.get("srsName", "")
    exteriors = [_ring(part, inherited) for part in patches[0].children if part.name == "exterior"]
    if len(exteriors) != 1:
        raise _UnreadError("its surface has no exterior")
    return exteriors + [_ring(part, inherited) for part in patches[0].children if part.name == "interior"]


def _ring(part: Node, inherited: str) -> list[Place]:
    """Return a ring as places: geodesic edges parted, straight ones as they are, circles by their rim."""
    places: list[Position] = []
    for segment, srs in _segments(part, inherited):
        if segment.name == _CIRCLE:
            places += _circle(segment, srs)
            continue
        corners = _listed(segment, srs)
        if segment.name in _GEODESIC:
            for a, b in pairwise(corners):
                if distance_m(a, b) > _LONGEST_EDGE_M:
                    raise _UnreadError(f"an edge of its border is longer than {_LONGEST_EDGE_M / 1000:,.0f} km")
                places += densify(a, b, _step_m(a, b))[:-1]
            places += corners[-1:]
        else:
            places += corners
    # Where one segment begins as the last one ended the place counts once.
    once = [place for n, place in enumerate(places) if n == 0 or place != places[n - 1]]
    return [(place.longitude_deg, place.latitude_deg) for place in once]


def _step_m(a: Position, b: Position) -> float:
    """Return how long a straight line in longitude and latitude may be to stay within a metre of the geodesic."""
    steepness = math.tan(math.radians(min(89.0, max(abs(a.latitude_deg), abs(b.latitude_deg)))))
    return min(50_000.0, max(1_000.0, math.sqrt(8 * EQUATOR_RADIUS_M * _WITHIN_M / max(steepness, 0.01))))


def _segments(node: Node, srs: str) -> Iterator[tuple[Node, str]]:
    """Yield the segments of a ring in order, each with the reference system that holds for it."""
    for child in node.children:
        own = child.attributes.get("srsName", srs)
        if any("href" in key for key in child.attributes):
            raise _UnreadError("a part of its border is that of something else (a reference)")
        if child.namespace == GML_32 and child.name in (*_GEODESIC, *_STRAIGHT, _CIRCLE):
            yield child, own
        elif child.name in _THROUGH:
            yield from _segments(child, own)
        else:
            raise _UnreadError(f"its border has a {child.name[:40]}, which is not read")


def _listed(node: Node, srs: str) -> list[Position]:
    lists = [child for child in node.children if child.name in ("posList", "pos", "pointProperty")]
    if any(child.name == "pointProperty" for child in lists):
        raise _UnreadError("its border goes through points of something else")
    numbers: list[float] = []
    for child in lists:
        if child.attributes.get("srsDimension", "2") != "2":
            raise _UnreadError("its positions have heights")
        numbers += _numbers(child.text)
        srs = child.attributes.get("srsName", srs)
    if len(numbers) % 2:
        raise _UnreadError("a list of positions has an odd count of numbers")
    return [_position(a, b, srs) for a, b in zip(numbers[::2], numbers[1::2], strict=True)]


def _numbers(text: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.split()]
    except ValueError:
        raise _UnreadError(f"{text.strip()[:40]!r} are no positions") from None
    if not all(abs(number) < 1e6 for number in numbers):
        raise _UnreadError(f"{text.strip()[:40]!r} are no positions")
    return numbers


def _position(first: float, second: float, srs: str) -> Position:
    """Return a position; the order of its axes is that of the reference system that is named, and never guessed."""
    if srs in _LATITUDE_FIRST:
        latitude, longitude = first, second
    elif srs in _LONGITUDE_FIRST:
        latitude, longitude = second, first
    else:
        raise _UnreadError(f"its reference system {srs[:60]!r} is not WGS84 as AIXM names it")
    try:
        return Position.at(latitude, longitude)
    except ValueError as error:
        raise _UnreadError(str(error)) from None


def _circle(node: Node, srs: str) -> list[Position]:
    """Return the rim of a circle about its centre."""
    centre = _listed(node, srs)
    radius = node.find("radius")
    if len(centre) != 1 or radius is None:
        raise _UnreadError("a circle has no centre or no radius")
    unit = _METRES.get(radius.attributes.get("uom", ""))
    numbers = _numbers(radius.text)
    if unit is None or len(numbers) != 1 or not 0 < numbers[0] * unit < _LARGEST_M:
        raise _UnreadError(f"the radius {radius.text.strip()[:20]!r} has no known unit, or is none")
    bearings = [float(bearing) for bearing in range(0, 360, _TURN_DEG)]
    rim = destinations_from(centre[0], bearings, [numbers[0] * unit] * len(bearings))
    return [*rim, rim[0]]
