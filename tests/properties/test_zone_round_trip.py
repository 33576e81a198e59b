"""Zones read back what they write, and no text breaks the reader."""

from __future__ import annotations

from hypothesis import given, settings, strategies as st

from taskdb.core.course.zones import describe_zone, is_zone_text, parse_zone, same_geometry, zone_text
from taskdb.core.model import Orientation, Shape, Zone
from taskdb.errors import UsageError

sizes = st.one_of(
    st.tuples(st.integers(1, 999), st.just("km")),
    st.tuples(st.integers(1, 99_999), st.just("m")),
    st.tuples(st.decimals(1, 500, places=2), st.sampled_from(["km", "mi", "nmi"])),
    st.tuples(st.integers(10, 90_000), st.just("ft")),
).map(lambda pair: f"{pair[0]}{pair[1]}")
openings = st.integers(1, 359).map(lambda n: f"{n}deg")
bearings = st.one_of(st.integers(0, 360).map(lambda n: f"{n:03d}"), st.decimals(0, 360, places=3).map(str))
orientations = st.one_of(st.just(""), bearings, st.sampled_from([o.value for o in Orientation if o.value != "bearing"]))


def joined(*parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.tuples(*parts).map(lambda words: " ".join(w for w in words if w))


texts = st.one_of(
    joined(st.just("cylinder"), sizes),
    joined(st.just("line"), sizes, orientations),
    joined(st.just("sector"), openings, st.one_of(st.just(""), sizes), orientations),
    joined(st.just("keyhole"), sizes, openings, sizes, orientations),
    joined(st.just("area"), sizes),
    joined(st.just("area"), sizes.map(lambda s: f"0km..{s}"), st.tuples(bearings, bearings).map("..".join)),
)
metres = st.floats(1.0, 1e6, allow_nan=False)
angles = st.floats(0, 360, exclude_max=True).map(lambda x: x + 0.0)


@given(texts)
def test_a_zones_text_parses_back_to_the_same_zone(text: str) -> None:
    zone = parse_zone(text)
    assert parse_zone(zone.text) == zone
    assert zone.text == text
    assert is_zone_text(text)
    assert describe_zone(zone).startswith(zone.shape.value)


@given(texts)
def test_a_written_zone_has_the_same_geometry_as_the_typed_one(text: str) -> None:
    zone = parse_zone(text)
    again = parse_zone(zone_text(zone))
    assert same_geometry(again, zone)
    assert zone_text(again) == again.text


@given(metres, metres, st.floats(0.001, 359.999), angles)
def test_zones_made_from_numbers_come_back_to_the_last_bit(a: float, b: float, opening: float, bearing: float) -> None:
    zones = [
        Zone(Shape.CYLINDER, "", radius_m=a),
        Zone(Shape.LINE, "", length_m=a, orientation=Orientation.BEARING, axis_deg=bearing),
        Zone(Shape.SECTOR, "", radius_m=a, opening_deg=opening, orientation=Orientation.BISECTOR),
        Zone(Shape.KEYHOLE, "", radius_m=a, core_radius_m=b, opening_deg=opening),
    ]
    if a < b:
        zones.append(Zone(Shape.AREA, "", inner_radius_m=a, radius_m=b, from_radial_deg=bearing, to_radial_deg=opening))
    for zone in zones:
        assert same_geometry(parse_zone(zone_text(zone)), zone)


@settings(max_examples=300)
@given(st.one_of(st.text(max_size=40), st.from_regex(r"(area|sector|line|keyhole|cylinder)[ 0-9a-z.°\-]{0,30}")))
def test_any_other_text_is_refused_and_never_breaks(text: str) -> None:
    is_zone_text(text)
    try:
        zone = parse_zone(text)
    except UsageError as error:
        assert error.hint
    else:
        assert parse_zone(zone.text) == zone
