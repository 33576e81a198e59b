"""Differences as facts, words, JSON, GeoJSON and the notice for members: writers over one value."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from taskdb.core.history import words
from taskdb.core.history.changes import SetDiff, diff
from taskdb.core.history.facts import LeftOut, count_facts, facts_of, within_tolerance
from taskdb.core.history.merge import ConflictKind, Take, merge
from taskdb.core.history.patch import Patch, patch_plain
from taskdb.core.history.patch_reading import read_patch
from taskdb.core.history.units import unit_changes, with_units
from taskdb.core.history.writers import diff_geojson, diff_plain
from taskdb.core.model import Feature, Position, Radio, Runway, Typed, Waypoint
from taskdb.core.quantities import Units
from taskdb.report.notice import Notice, NoticeRevision, render_notice

HOME = Waypoint("001", "Ormsau", Position.at(48.872, 11.8105), 389.0, identity="a", radio=(Radio("123.505", "launch"),))
QUARRY = Waypoint("002", "Kelmried", Position.at(48.561, 11.522), identity="b", runways=(Runway("07/25", 72.0, 780.0),))


def test_a_move_is_told_with_distance_and_true_bearing():
    # A degree of the meridian at 45° on WGS84 is 111,131.75 m long (from memory): a thousandth of it, due north.
    there = replace(HOME, position=Position.at(45.001, 11.8105))
    here = replace(HOME, position=Position.at(45.0, 11.8105))
    fact = facts_of((here, there))
    assert words.moved_words(fact) == "moved 111 m towards 000°"
    assert words.moved_words(facts_of((there, here))) == "moved 111 m towards 180°"


@pytest.mark.parametrize(
    ("metres", "text"),
    [(0.04, "4 cm"), (0.996, "1.0 m"), (3.44, "3.4 m"), (134.4, "134 m"), (999.6, "1.0 km"), (22_100.0, "22.1 km")],
)
def test_lengths_from_centimetres_to_kilometres(metres, text):
    assert words.length_words(metres) == text


def test_the_chosen_unit_is_used_above_a_kilometre():
    assert words.length_words(22_100.0, Units.NMI) == "11.9 nmi"


def test_changes_in_words():
    new = replace(
        QUARRY, code="902", name="Kelmried West", elevation_m=467.0, feature=Feature.STRUCTURE, runways=()
    )  # fmt: skip
    assert words.change_words(facts_of((QUARRY, new))) == [
        "renumbered 002 → 902",
        "renamed Kelmried → Kelmried West",
        "elevation – → 467 m",
        "feature – → structure",
        "runways 07/25 072deg 780m → –",
    ]


def test_headline_counts_come_first_and_one_waypoint_may_count_in_several_kinds():
    new = replace(QUARRY, code="902", name="x", position=HOME.position, elevation_m=1.0)
    found = diff([HOME, QUARRY], [new])
    counts = count_facts(found, [facts_of(change) for change in found.changed])
    assert words.headline(counts) == "1 retired, 1 changed (1 renumbered, 1 renamed, 1 moved, 1 with other fields)"
    assert words.headline(count_facts(SetDiff(), [])) == "no difference"


def test_a_tolerance_leaves_out_small_moves_and_says_so():
    # 5e-6 degrees of the meridian are 0.56 m.
    near = replace(HOME, position=Position.at(48.872005, 11.8105), elevation_m=390.0)
    both = replace(QUARRY, position=Position.at(48.561005, 11.522), name="x")
    full = SetDiff(changed=((HOME, near), (QUARRY, both)))
    seen, left_out = within_tolerance(full, 1.0)
    assert left_out == LeftOut(moves=2, elevations=1, waypoints=1)
    ((_, kept),) = seen.changed
    assert (kept.name, kept.position) == ("x", QUARRY.position)
    expected = "left out as within 1.0 m: 2 moves and 1 elevation; 1 waypoint has no other change"
    assert words.left_out_words(left_out, 1.0) == expected
    assert words.left_out_words(LeftOut(moves=1), 1.0) == "left out as within 1.0 m: 1 move"
    assert words.left_out_words(LeftOut(), 1.0) is None
    assert within_tolerance(full, 0.0) == (full, LeftOut())
    assert within_tolerance(full, 0.5)[1] == LeftOut()


def test_json_of_a_change_has_the_new_code_and_changed_fields_only():
    new = replace(HOME, code="701", position=Position.at(48.873, 11.8105), radio=())
    result = diff_plain(SetDiff(changed=((HOME, new),)), [facts_of((HOME, new))], ("region", 1), ("region", 3))
    assert (result["from"], result["to"]) == ("region@1", "region@3")
    (changed,) = result["changed"]
    assert (changed["code"], changed["name"]) == ("701", "Ormsau")
    assert changed["fields"] == {
        "code": ["001", "701"],
        "radio": [[{"channel": "123.505", "purpose": "launch"}], []],
        "latitude_deg": [48.872, 48.873],
    }
    assert changed["moved_m"] == pytest.approx(111.2, abs=0.05) and changed["moved_bearing_deg"] == 0.0
    stays = diff_plain(SetDiff(), [facts_of((HOME, replace(HOME, name="x")))], ("a", 1), ("b", 1))["changed"][0]
    assert stays["moved_m"] is None and stays["moved_bearing_deg"] is None


def test_geojson_has_a_point_for_each_waypoint_and_a_line_for_each_move():
    moved = replace(HOME, position=Position.at(48.873, 11.8105))
    document = diff_geojson(SetDiff(added=(replace(QUARRY, code="9"),), retired=(QUARRY,), changed=((HOME, moved),)))
    assert json.loads(json.dumps(document))["type"] == "FeatureCollection"
    kinds = [(f["properties"]["change"], f["geometry"]["type"], f["properties"]["code"]) for f in document["features"]]
    assert kinds == [
        ("added", "Point", "9"),
        ("retired", "Point", "002"),
        ("changed", "Point", "001"),
        ("moved", "LineString", "001"),
    ]
    # RFC 7946 3.1.1: longitude first.
    assert document["features"][3]["geometry"]["coordinates"] == [[11.8105, 48.872], [11.8105, 48.873]]


def test_a_move_across_the_antimeridian_is_cut_there():
    west = Waypoint("1", "x", Position.at(10.0, 179.9), identity="a")
    line = diff_geojson(SetDiff(changed=((west, replace(west, position=Position.at(10.0, -179.9))),)))["features"][1]
    # RFC 7946 3.1.9: such a line should be cut in two at the antimeridian.
    assert line["geometry"]["type"] == "MultiLineString"
    first, second = line["geometry"]["coordinates"]
    assert [first[0], second[1]] == [[179.9, 10.0], [-179.9, 10.0]]
    assert first[1][0] == 180.0 and second[0][0] == -180.0 and first[1][1] == second[0][1]


# -- units of merging -----------------------------------------------------------------------------------------------


def test_latitude_and_longitude_are_one_unit_and_each_runway_is_one():
    new = replace(
        QUARRY,
        position=Position.at(48.562, 11.522),
        runways=(Runway("07/25", 72.0, 800.0), Runway("16/34"), Runway("16/34", surface="grass")),
    )
    changes = unit_changes(QUARRY, new)
    assert [change.unit for change in changes] == ["position", "runway 07/25", "runway 16/34"]
    assert [len(change.new) for change in changes[1:]] == [1, 2]
    assert with_units(QUARRY, changes, new) == new


def test_what_was_typed_goes_with_its_own_field_only():
    ours = replace(HOME, typed=Typed("4852.320N", "01148.630E", "packed-minutes", 3, "389", "m"))
    theirs = replace(
        ours, elevation_m=391.0, typed=Typed("48.872", "11.8105", "decimal-degrees", 4, "1283", "ft")
    )  # fmt: skip
    merged = with_units(ours, unit_changes(ours, theirs), theirs)
    assert merged.typed == Typed("4852.320N", "01148.630E", "packed-minutes", 3, "1283", "ft")


def test_a_runway_keeps_its_place_and_a_new_one_goes_last():
    a, b, c = Runway("09/27"), Runway("16/34"), Runway("07/25")
    base = replace(HOME, runways=(a, b))
    ours = replace(base, runways=(replace(a, length_m=900.0), b))
    theirs = replace(base, runways=(a, replace(b, length_m=600.0), c))
    done = merge([ours], diff([base], [theirs]), new_identity=str)
    ((_, merged),) = done.changes.changed
    assert merged.runways == (replace(a, length_m=900.0), replace(b, length_m=600.0), c)


def test_both_changing_one_runway_is_a_conflict_of_that_runway_alone():
    a, b = Runway("09/27", length_m=900.0), Runway("16/34")
    base = replace(HOME, runways=(a, b))
    ours = replace(base, runways=(replace(a, length_m=950.0), b))
    theirs = replace(base, runways=(replace(a, length_m=990.0), replace(b, surface="grass")))
    done = merge([ours], diff([base], [theirs]), new_identity=str)
    assert [(c.kind, c.field) for c in done.conflicts] == [(ConflictKind.FIELD, "runway 09/27")]
    kept = merge([ours], diff([base], [theirs]), new_identity=str, decide=lambda _: Take.OURS)
    assert [r.length_m for r in kept.changes.changed[0][1].runways] == [950.0, None]


@pytest.mark.parametrize(
    ("take", "kinds"),
    [(None, [ConflictKind.CHANGED]), (Take.OURS, [ConflictKind.CODE]), (Take.THEIRS, [])],
)
def test_a_code_is_asked_about_once_it_is_decided_whether_its_holder_stays(take, kinds):
    # There the first was retired, and the second took its code; here the first was renamed.
    renamed = replace(HOME, name="Ormsau North")
    theirs = SetDiff(retired=(HOME,), changed=((QUARRY, replace(QUARRY, code=HOME.code)),))
    done = merge(
        [renamed, QUARRY],
        theirs,
        new_identity=str,
        decide=lambda conflict: take if conflict.kind is ConflictKind.CHANGED else None,
    )
    assert [conflict.kind for conflict in done.conflicts] == kinds


@pytest.mark.parametrize(
    ("where", "told"),
    [
        ((), "elevation"),
        (("add", 0), "add[0].elevation"),
        (("change", 0), "change[0].elevation"),
        (("change", 0, "waypoint"), "change[0].waypoint.elevation"),
    ],
)
def test_a_name_that_a_patch_does_not_know_is_told_with_its_place(where, told):
    new = replace(QUARRY, elevation_m=467.0)
    document = patch_plain(Patch("region@1", "region@2", SetDiff(added=(HOME,), changed=((QUARRY, new),)), ()))
    assert read_patch(document)[1] == ()
    entry = document
    for step in where:
        entry = entry[step]
    # It is elevation_m: a unit that is not said is not guessed.
    entry["elevation"] = 1_532
    patch, problems = read_patch(document)
    assert patch is None
    assert [(problem.place, "is not known here" in problem.message) for problem in problems] == [(told, True)]


# -- the notice -----------------------------------------------------------------------------------------------------

HOSTILE = "<script>alert(1)</script>\u202e{{ 7*7 }}"


def notice(**values):
    old, new = NoticeRevision(1, "2026-03-01", None), NoticeRevision(3, "2027-03-01", "2027 edition")
    changed = values.pop("changed", ())
    found = SetDiff(values.get("added", ()), values.get("retired", ()), changed)
    facts = tuple(facts_of(change) for change in changed)
    return render_notice(Notice("region", old, new, count_facts(found, facts), facts, **values))


def test_the_notice_says_what_to_update_and_why():
    moved = replace(HOME, position=Position.at(48.873, 11.8105))
    page = notice(
        changed=((HOME, moved),),
        added=(replace(QUARRY, code="9", identity="c"),),
        retired=(QUARRY,),
        reasons={"a": ["surveyed anew"], "b": ["quarry filled in"]},
        tasks=[("Varn Cup:A", ("001", "002"))],
    )
    text = " ".join(re.sub(r"<[^>]+>", " ", page.partition("<body>")[2]).split())
    assert "revision 1 (2026-03-01) → 2027 edition (2027-03-01)" in text
    assert "48°52.380′N 011°48.630′E (moved 111 m towards 000°) before 48°52.320′N 011°48.630′E surveyed anew" in text
    assert "No longer to be used" in text and "quarry filled in" in text
    assert "Varn Cup:A 001, 002" in text
    assert "Not for primary navigation." in text
    assert page == notice(
        changed=((HOME, moved),),
        added=(replace(QUARRY, code="9", identity="c"),),
        retired=(QUARRY,),
        reasons={"a": ["surveyed anew"], "b": ["quarry filled in"]},
        tasks=[("Varn Cup:A", ("001", "002"))],
    )


def test_the_notice_escapes_every_text_and_loads_nothing():
    bad = Waypoint("1", HOSTILE, Position.at(48.0, 11.0), identity="a", description=HOSTILE)
    page = notice(
        added=(bad,),
        retired=(bad,),
        changed=((bad, replace(bad, name="x", description=None)),),
        reasons={"a": [HOSTILE]},
        tasks=[(HOSTILE, (HOSTILE,))],
    )
    assert "<script" not in page and "\u202e" not in page
    assert page.count("&lt;script&gt;") >= 6 and "{{ 7*7 }}" in page
    assert "default-src 'none'" in page
    assert re.search(r"(src|href)=|url\(|@import", page) is None


def test_a_notice_without_a_difference_says_so():
    assert "there is nothing to update" in notice()


def test_the_notice_says_from_which_day_the_edition_counts():
    first, second = NoticeRevision(1, "2026-03-01"), NoticeRevision(2, "2027-03-01", "2027 edition", None, "2027-05-01")
    nothing = count_facts(SetDiff((), (), ()), ())
    text = re.sub(r"<[^>]+>", "", render_notice(Notice("region", first, second, nothing)))
    assert "2027 edition is valid from 2027-05-01." in text
    assert "valid from" not in render_notice(Notice("region", first, replace(second, valid_from=None), nothing))


def test_why_a_point_changed_is_told_to_its_end():
    why = "surveyed anew " * 60 + "(ends here)"
    assert "(ends here)" in notice(retired=(QUARRY,), reasons={"b": [why]})
