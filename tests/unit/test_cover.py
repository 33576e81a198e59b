"""Landable cover at its edges: what counts as a field, ties, legs without length, ground that is not known."""

from __future__ import annotations

import numpy as np
import pytest

from taskdb.core.geodesy import destination, distance_m, path_length_m, sphere_distance_m
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import CoverGround, Terms, cover_course
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Earth, Landable, Position, Waypoint
from taskdb.core.quantities import Wind

HOME = Position.at(50.0, 10.0)
CALM = Glide(30, 100)


def off(km: float, bearing: float, of: Position = HOME) -> Position:
    place = destination(of, bearing, km * 1000)
    return Position.at(place.latitude_deg, place.longitude_deg)


def field(code: str, at: Position, elevation_m: float | None = 300.0, **values: object) -> Waypoint:
    return Waypoint(code, code, at, elevation_m, Landable.FIELD, **values)  # type: ignore[arg-type]


def fields(*points: Waypoint, since: str | None = None) -> Fields:
    return Fields.of(points, [Landable.FIELD], since)


def terms(glide: Glide = CALM, altitude_m: float = 1500.0, **values: float | bool) -> Terms:
    return Terms(glide, altitude_m, f"{altitude_m:.0f}m MSL", **values)  # type: ignore[arg-type]


def flat(height_m: float, *, users: bool = False) -> GroundHeights:
    return GroundHeights("a plain", 9266.0, users, lambda latitude, _: np.full(len(latitude), height_m))


def test_a_field_at_the_sample_itself_takes_no_height() -> None:
    cover = cover_course([HOME, off(3, 90)], fields(field("A", HOME)), terms(Glide(30, 100, Wind(240, 60))))
    first = cover.samples[0]
    assert (first.code, first.arrival_m, first.distance_m) == ("A", 1200.0, 0.0)


def test_equal_heights_on_arrival_go_by_code() -> None:
    same = off(10, 0)
    for codes in (("B", "A", "C"), ("C", "B", "A")):
        cover = cover_course([HOME, off(5, 90)], fields(*(field(code, same) for code in codes)), terms())
        assert {sample.code for sample in cover.samples} == {"A"}
    # As far to the east as to the west of the first sample: below a millimetre apart, and no more is known.
    cover = cover_course([HOME, off(5, 0)], fields(field("EAST", off(8, 90)), field("WEST", off(8, 270))), terms())
    assert cover.samples[0].code == "EAST"


def test_samples_lie_at_whole_kilometres_of_each_leg_and_at_the_finish() -> None:
    points = [HOME, off(2.5, 90), off(2.5, 90), off(4.2, 90)]
    cover = cover_course(points, fields(field("A", HOME)), terms())
    told = [(round(one.at_m), one.leg) for one in cover.samples]
    assert told == [(0, 0), (1000, 0), (2000, 0), (2500, 2), (3500, 2), (4200, 2)]
    # A leg of whole kilometres ends where the next one begins: that place is looked at once.
    exact = destination(HOME, 90, 3000.0)
    cover = cover_course([HOME, exact, HOME], fields(field("A", HOME)), terms())
    assert [round(one.at_m) for one in cover.samples] == [0, 1000, 2000, 3000, 4000, 5000, 6000]


def test_kilometres_are_those_of_the_earth_that_the_contest_counts_on() -> None:
    # On the FAI sphere of 6371 km a degree to the north is longer here than on the ellipsoid, one to the east shorter.
    points = [Position.at(45.0, 10.0), Position.at(46.0, 10.0), Position.at(46.0, 11.0)]
    cover = cover_course(points, fields(field("A", points[0])), terms(), earth=Earth.FAI_SPHERE)
    assert cover.samples[-1].at_m == pytest.approx(path_length_m(points, Earth.FAI_SPHERE), abs=1e-6)
    assert abs(cover.samples[-1].at_m - path_length_m(points, Earth.WGS84)) > 100
    tenth = cover.samples[10]
    assert tenth.at_m == 10_000.0
    share = 10_000.0 / sphere_distance_m(points[0], points[1])
    assert tenth.distance_m == pytest.approx(share * distance_m(points[0], points[1]), abs=0.01)


def test_a_course_without_any_length_has_its_finish_alone_and_none_without_points() -> None:
    assert [one.at_m for one in cover_course([HOME, HOME], fields(field("A", HOME)), terms()).samples] == [0.0]
    assert cover_course([], fields(field("A", HOME)), terms()).samples == ()


def test_a_wind_as_strong_as_the_airspeed_leaves_what_lies_against_it_out_of_reach() -> None:
    strong = Glide(30, 100, Wind(0, 120))
    north, south = field("N", off(5, 0)), field("S", off(5, 180))
    only_north = cover_course([HOME, off(1, 90)], fields(north), terms(strong)).samples[0]
    assert (only_north.code, only_north.arrival_m, only_north.is_reached) == (None, None, False)
    both = cover_course([HOME, off(1, 90)], fields(north, south), terms(strong)).samples[0]
    # 5 km at 220 km/h over the ground: 81.8 s of sinking 100 / 3.6 / 30 m/s.
    assert both.code == "S" and both.arrival_m == pytest.approx(1200 - 5 / 220 * 100 * 1000 / 30, abs=0.01)


def test_only_fields_of_the_kinds_and_dates_asked_for_count_and_those_without_elevation_are_told() -> None:
    points = [
        field("OLD", HOME, inspected_on="2024-05-01"),
        field("NEW", off(1, 0), inspected_on="2026-05-01"),
        field("NEVER", off(1, 90)),
        field("BLIND", off(1, 180), None, inspected_on="2026-06-01"),
        Waypoint("WOOD", "Wood", HOME, 300.0, Landable.NO),
        Waypoint("TOWN", "Town", HOME, 300.0),
        Waypoint("STRIP", "Strip", HOME, 300.0, Landable.EMERGENCY),
    ]
    every = Fields.of(points, [Landable.FIELD])
    assert (every.codes, every.left_out) == (("NEVER", "NEW", "OLD"), ("BLIND",))
    assert Fields.of(points, [Landable.FIELD], "2025-01-01").codes == ("NEW",)
    assert Fields.of(points, [Landable.EMERGENCY]).codes == ("STRIP",)


def test_without_any_field_all_is_out_of_reach_of_nothing() -> None:
    cover = cover_course([HOME, off(3, 0)], fields(), terms())
    assert [(one.samples, one.nearest) for one in cover.stretches] == [(4, ())]
    assert (cover.out_of_reach, cover.longest_out_m) == (4, pytest.approx(3000, abs=0.1))


def test_across_the_antimeridian_nothing_changes() -> None:
    def told(east: float) -> list[tuple[str | None, float]]:
        course = [Position.at(-17.0, 179.9 - east), Position.at(-17.3, -179.8 - east)]
        land = [("A", -17.1, -179.9), ("B", -17.4, 179.7), ("C", -16.8, 179.95)]
        held = fields(*(field(code, Position.at(lat, lon - east)) for code, lat, lon in land))
        cover = cover_course(course, held, terms(Glide(25, 90, Wind(120, 40))))
        return [(one.code, one.arrival_m or 0.0) for one in cover.samples]

    here, there = told(0.0), told(60.0)
    assert [code for code, _ in here] == [code for code, _ in there] and len({code for code, _ in here}) > 1
    assert [arrival for _, arrival in here] == pytest.approx([arrival for _, arrival in there], abs=0.02)


def test_the_shipped_grid_withholds_figures_where_it_shows_hills_and_never_a_place_out_of_reach() -> None:
    def heights(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        return np.where(latitude > 50.3, 301.0, 0.0)

    grid = GroundHeights("a grid", 9266.0, False, heights)
    far_from_hills, near_hills = off(30, 180), off(30, 0)
    given = fields(field("A", far_from_hills, 0.0), field("B", near_hills, 0.0))
    assert cover_course([far_from_hills, off(32, 180)], given, terms(), ground=grid).withheld == 0
    cover = cover_course([near_hills, off(32, 0)], given, terms(), ground=grid)
    assert cover.ground is CoverGround.GRID and cover.withheld == len(cover.samples)
    assert {(one.code, one.arrival_m, one.is_reached) for one in cover.samples} == {(None, None, None)}
    assert (cover.out_of_reach, cover.stretches) == (0, ())
    # From too low nothing is in reach, hills or not.
    low = cover_course([near_hills, off(32, 0)], given, terms(altitude_m=150.0), ground=grid)
    assert low.out_of_reach == len(low.samples) == low.withheld
    # 300 m are not passed; and who asks for no ground is told no ground.
    lower = GroundHeights("a grid", 9266.0, False, lambda lat, lon: np.minimum(heights(lat, lon), 300.0))
    assert cover_course([near_hills, off(32, 0)], given, terms(), ground=lower).withheld == 0
    bare = cover_course([near_hills, off(32, 0)], given, terms())
    assert (bare.ground, bare.withheld) == (CoverGround.NONE, 0)


def wall(from_deg: float, to_deg: float, height_m: float) -> GroundHeights:
    """Flat land at 300 m with a wall across all longitudes between two latitudes."""

    def heights(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        return np.where((latitude > from_deg) & (latitude < to_deg), height_m, 300.0)

    return GroundHeights("a wall", 30.0, True, heights)


def test_a_glide_clears_the_ground_but_for_its_last_part() -> None:
    north = off(20, 0)
    given = fields(field("N", north))

    def code(ground: GroundHeights, **values: float) -> str | None:
        return cover_course([HOME, off(1, 90)], given, terms(**values), ground=ground).samples[0].code

    # The wall stands 5 to 6 km along: 1,500 - 5.6 / 30 km = 1,313 m there; 100 m above it are asked for.
    assert code(wall(50.045, 50.05, 1200.0)) == "N"
    assert code(wall(50.045, 50.05, 1240.0)) is None
    assert code(wall(50.045, 50.05, 1240.0), clearance_m=50.0) == "N"
    # 1.5 km before the field nothing is asked for, unless the free part is shorter.
    assert code(wall(50.165, 50.168, 2000.0)) == "N"
    assert code(wall(50.165, 50.168, 2000.0), free_m=1000.0) is None
    # A field in front of the wall is the best that is left, though it lies higher.
    two = fields(field("N", north), field("S", off(3, 0), 700.0))
    cover = cover_course([HOME, off(1, 90)], two, terms(), ground=wall(50.045, 50.05, 1400.0))
    assert cover.samples[0].code == "S"


def test_where_the_terrain_ends_a_figure_is_withheld_and_a_sure_field_is_told() -> None:
    def heights(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        return np.where(latitude > 50.1, np.nan, 300.0)

    ground = GroundHeights("half", 30.0, True, heights)
    beyond, here = field("N", off(20, 0)), field("S", off(25, 180))
    alone = cover_course([HOME, off(1, 90)], fields(beyond), terms(), ground=ground)
    assert (alone.ground, alone.samples[0].is_reached, alone.samples[0].is_withheld) == (
        CoverGround.TERRAIN,
        None,
        True,
    )
    assert cover_course([HOME, off(1, 90)], fields(beyond, here), terms(), ground=ground).samples[0].code == "S"


def test_a_working_altitude_above_ground_follows_the_ground_and_needs_terrain() -> None:
    given = fields(field("A", HOME, 300.0))
    agl = terms(altitude_m=1000.0, is_above_ground=True)
    with pytest.raises(ValueError, match="terrain"):
        cover_course([HOME, off(1, 90)], given, agl, ground=flat(300.0))
    cover = cover_course([HOME, off(1, 90)], given, agl, ground=flat(300.0, users=True))
    assert (cover.samples[0].altitude_m, cover.samples[0].arrival_m) == (1300.0, 1000.0)


def test_places_where_the_working_altitude_lies_in_the_ground_are_counted() -> None:
    given = fields(field("A", HOME, 300.0))
    high = cover_course([HOME, off(3, 90)], given, terms(altitude_m=380.0), ground=flat(300.0, users=True))
    assert high.too_low == len(high.samples)
    assert cover_course([HOME, off(3, 90)], given, terms(), ground=flat(300.0, users=True)).too_low == 0
