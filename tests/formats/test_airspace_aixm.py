"""The plain part of AIXM 5.1, and what is told instead of read. Messages are made after the published schema's names
(AIXM 5.1 and GML 3.2.1, from memory: no copy of the schemas was at hand)."""

from __future__ import annotations

import io

import pytest
import shapely
from pyproj import Geod

from taskdb.core.airspace.volume import Kind
from taskdb.errors import InputError
from taskdb.formats.registry import AirspaceOptions, AirspaceReading, read_airspace
from tests.reference.airspaces import as_shape

GEOD = Geod(ellps="WGS84")
EPSG, CRS84 = "urn:ogc:def:crs:EPSG::4326", "urn:ogc:def:crs:OGC:1.3:CRS84"
SQUARE = "48 10 48 11 49 11 49 10 48 10"


def segment(positions: str = SQUARE, name: str = "GeodesicString") -> str:
    return f"<gml:{name}><gml:posList>{positions}</gml:posList></gml:{name}>"


def ring(*segments: str, part: str = "exterior") -> str:
    return (
        f"<gml:{part}><gml:Ring><gml:curveMember><gml:Curve><gml:segments>{''.join(segments)}</gml:segments></gml:Curve>"
        f"</gml:curveMember></gml:Ring></gml:{part}>"
    )


def volume(*rings: str, srs: str = EPSG, more: str = "", lower: str | None = None, upper: str | None = None) -> str:
    low = '<aixm:lowerLimit uom="FT">1500</aixm:lowerLimit><aixm:lowerLimitReference>MSL</aixm:lowerLimitReference>'
    high = '<aixm:upperLimit uom="FL">095</aixm:upperLimit><aixm:upperLimitReference>STD</aixm:upperLimitReference>'
    return (
        f"<aixm:AirspaceVolume>{high if upper is None else upper}{low if lower is None else lower}{more}"
        f'<aixm:horizontalProjection><aixm:Surface srsName="{srs}"><gml:patches><gml:PolygonPatch>{"".join(rings)}'
        "</gml:PolygonPatch></gml:patches></aixm:Surface></aixm:horizontalProjection></aixm:AirspaceVolume>"
    )


def component(content: str, operation: str = "BASE") -> str:
    return (
        f"<aixm:geometryComponent><aixm:AirspaceGeometryComponent><aixm:operation>{operation}</aixm:operation>"
        f"<aixm:theAirspaceVolume>{content}</aixm:theAirspaceVolume></aixm:AirspaceGeometryComponent>"
        "</aixm:geometryComponent>"
    )


def state(*components: str, name: str = "MOOR", interpretation: str = "BASELINE", kind: str = "D") -> str:
    return (
        f"<aixm:timeSlice><aixm:AirspaceTimeSlice><aixm:interpretation>{interpretation}</aixm:interpretation>"
        f"<aixm:type>{kind}</aixm:type><aixm:designator>XD1</aixm:designator><aixm:name>{name}</aixm:name>"
        f"{''.join(components)}</aixm:AirspaceTimeSlice></aixm:timeSlice>"
    )


def message(*airspaces: str, more: str = "") -> bytes:
    members = "".join(
        f"<message:hasMember><aixm:Airspace>{airspace}</aixm:Airspace></message:hasMember>\n" for airspace in airspaces
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<message:AIXMBasicMessage xmlns:message='
        '"http://www.aixm.aero/schema/5.1/message" xmlns:aixm="http://www.aixm.aero/schema/5.1" '
        f'xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:xlink="http://www.w3.org/1999/xlink">\n{members}{more}'
        "</message:AIXMBasicMessage>"
    ).encode()


def read(content: bytes) -> AirspaceReading:
    return read_airspace(io.BytesIO(content), options=AirspaceOptions())


def one(*rings: str, **how: str) -> AirspaceReading:
    return read(message(state(component(volume(*rings, **how)))))


def test_an_airspace_is_read_with_its_name_type_and_limits() -> None:
    other = "<message:hasMember><aixm:Navaid/></message:hasMember>"
    reading = read(message(state(component(volume(ring(segment()))), interpretation="SNAPSHOT"), more=other))
    (moor,) = reading.volumes
    assert (moor.name, moor.kind, moor.floor.text, moor.ceiling.text) == ("MOOR", Kind.DANGER, "1500ft MSL", "FL095")
    assert reading.format == "aixm"
    assert reading.notes == ("1 Navaid left aside",)


@pytest.mark.parametrize(
    ("limit", "text"),
    [
        ('<aixm:lowerLimit uom="FT">0</aixm:lowerLimit><aixm:lowerLimitReference>SFC</aixm:lowerLimitReference>',
         "GND"),
        ("<aixm:lowerLimit>GND</aixm:lowerLimit>", "GND"),
        ('<aixm:lowerLimit uom="M">300</aixm:lowerLimit><aixm:lowerLimitReference>SFC</aixm:lowerLimitReference>',
         "300m AGL"),
        ('<aixm:lowerLimit uom="FL">65</aixm:lowerLimit>', "FL065"),
        ("", "GND"),
    ],
)  # fmt: skip
def test_limits_are_read_by_unit_and_reference(limit: str, text: str) -> None:
    (moor,) = one(ring(segment()), lower=limit).volumes
    assert moor.floor.text == text


def test_the_reference_system_says_which_axis_comes_first() -> None:
    turned = " ".join(f"{x} {y}" for y, x in zip(SQUARE.split()[::2], SQUARE.split()[1::2], strict=True))
    (by_latitude,) = one(ring(segment())).volumes
    (by_longitude,) = one(ring(segment(turned)), srs=CRS84).volumes
    assert by_latitude.polygons == by_longitude.polygons
    assert as_shape(by_latitude).bounds[0] == 10.0
    reading = one(ring(segment()), srs="urn:ogc:def:crs:EPSG::25832")
    assert "is not WGS84" in reading.problems[0].message


def test_geodesic_edges_bulge_and_straight_ones_do_not() -> None:
    (bent,) = one(ring(segment())).volumes
    (straight,) = one(ring(segment(name="LineStringSegment"))).volumes
    assert as_shape(straight).equals(shapely.box(10, 48, 11, 49))
    # The geodesic along the north edge, halfway, by another library: the polygon reaches it within a metre.
    x, y, _ = GEOD.fwd(10, 49, GEOD.inv(10, 49, 11, 49)[0], GEOD.inv(10, 49, 11, 49)[2] / 2)
    assert y > 49.001
    edge = shapely.LinearRing(as_shape(bent).geoms[0].exterior)
    assert edge.distance(shapely.Point(x, y)) < 1e-5


def test_a_circle_is_read_with_the_unit_of_its_radius() -> None:
    circle = (
        '<gml:CircleByCenterPoint><gml:pos>48 10</gml:pos><gml:radius uom="[nmi_i]">5</gml:radius>'
        "</gml:CircleByCenterPoint>"
    )
    (moor,) = one(ring(circle)).volumes
    rim = as_shape(moor).geoms[0].exterior.coords
    assert all(abs(GEOD.inv(10, 48, x, y)[2] - 9260) < 0.02 for x, y in rim)


def test_holes_are_read() -> None:
    hole = ring(segment("48.2 10.2 48.2 10.4 48.4 10.4 48.2 10.2"), part="interior")
    (moor,) = one(ring(segment()), hole).volumes
    assert len(moor.polygons[0]) == 2


UNREAD = {
    "two components": state(component(volume(ring(segment()))), component(volume(ring(segment())))),
    "a union": state(component(volume(ring(segment())), "UNION")),
    "another's geometry": state(
        component("<aixm:AirspaceVolume><aixm:contributorAirspace/></aixm:AirspaceVolume>"),
    ),
    "a later change": state(component(volume(ring(segment())))) + state(interpretation="PERMDELTA"),
    "only changes": state(component(volume(ring(segment()))), interpretation="TEMPDELTA"),
    "an arc": state(component(volume(ring("<gml:ArcByCenterPoint/>")))),
    "a border by reference": state(component(volume(ring('<gml:GeodesicString xlink:href="#border"/>')))),
    "points of something else": state(
        component(volume(ring("<gml:GeodesicString><gml:pointProperty/></gml:GeodesicString>")))
    ),
    "an odd count": state(component(volume(ring(segment("48 10 49"))))),
    "an edge round the world": state(component(volume(ring(segment("48 10 48 100 10 50 48 10"))))),
    "words": state(component(volume(ring(segment("north of the river"))))),
    "off the earth": state(component(volume(ring(segment("98 10 48 11 49 11 98 10"))))),
    "an alternative floor": state(
        component(volume(ring(segment()), more='<aixm:minimumLimit uom="FT">1000</aixm:minimumLimit>'))
    ),
    "no surface": state(component("<aixm:AirspaceVolume/>")),
    "no unit": state(
        component(
            volume(
                ring(
                    "<gml:CircleByCenterPoint><gml:pos>48 10</gml:pos><gml:radius>5</gml:radius>"
                    "</gml:CircleByCenterPoint>"
                )
            )
        )
    ),
}


@pytest.mark.parametrize("name", UNREAD)
def test_what_is_not_read_is_told_by_the_volumes_name(name: str) -> None:
    reading = read(message(UNREAD[name], state(component(volume(ring(segment()))), name="GOOD")))
    assert [one.name for one in reading.volumes] == ["GOOD"]
    (problem,) = reading.problems
    assert problem.code == "not-read" and problem.line == 3
    assert problem.message.startswith("MOOR: ") and "GeoJSON or KML" in problem.message


def test_what_is_no_message_is_refused() -> None:
    with pytest.raises(InputError, match="no AIXM"):
        read_airspace(io.BytesIO(b"<kml/>"), options=AirspaceOptions(format="aixm"))
    with pytest.raises(InputError, match="holds no areas"):
        read(message())
    with pytest.raises(InputError, match="entity declaration"):
        read(b'<!DOCTYPE x [<!ENTITY a "b">]>' + message().partition(b"\n")[2])
