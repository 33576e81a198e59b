"""Airspace in a store, on both engines: taken in, drawn, compared, undone, pinned, asked by reviews and hand-outs."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pytest
from pyproj import Geod

from taskdb.cli.airspace.airspace import KINDS
from taskdb.core.airspace.heights import parse_limit
from taskdb.core.airspace.volume import Kind
from taskdb.errors import InputError, NotFoundError, RefusedError, UsageError
from taskdb.formats.airspace.reading import AirspaceOptions
from taskdb.services.airspace.airspace import (
    airspace_log,
    diff_airspace,
    export_airspace,
    list_airspaces,
    show_airspace,
)
from taskdb.services.airspace.drawing import Drawn, add_volume, retire_volume
from taskdb.services.airspace.importing import AirspaceImport, Mode, import_airspace
from taskdb.services.contests.contest import NewContest, new_contest, show_contest
from taskdb.services.contests.settings import (
    ContestCopy,
    ContestEdit,
    contest_log,
    copy_contest,
    edit_contest,
    set_settings,
)
from taskdb.services.desk import Desk
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.store.copies import dump_store, load_store
from taskdb.services.store.undo import undo
from taskdb.services.store.verify import verify_store
from taskdb.services.tasks.finding import TaskFindRequest, find_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, review_tasks
from tests.services.conftest import REGION

pytestmark = pytest.mark.both_engines

SQUARE = [[11.9, 48.7], [12.1, 48.7], [12.1, 48.8], [11.9, 48.8], [11.9, 48.7]]
"""Across the straight way from Ormsau to Greifenlohe."""


def area(name: str, ring: list[list[float]] = SQUARE, **properties: Any) -> dict[str, Any]:
    geometry = {"type": "Polygon", "coordinates": [ring]}
    return {"type": "Feature", "properties": {"name": name, "kind": "restricted", **properties}, "geometry": geometry}


@pytest.fixture
def taken(desk: Desk, write, csv_file, tmp_path):
    """Return what takes areas into the airspace `air` of a store with the region."""
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())

    def take(*areas: dict[str, Any], mode: Mode = Mode.MERGE, confirmed: bool = True, **options: Any):
        path = tmp_path / "air.geojson"
        path.write_text(json.dumps({"type": "FeatureCollection", "features": list(areas)}), encoding="utf-8")
        request = AirspaceImport(str(path), "air", AirspaceOptions(**options), mode)
        return import_airspace(desk, request, write("airspace import", confirmed=confirmed))

    return take


def cup(desk: Desk, write, *codes: str) -> None:
    new_contest(desk, NewContest("Cup", "region", site="001"), write())
    points = tuple(PointRequest(code) for code in codes or ("001", "004", "003", "001"))
    new_task(desk, NewTask("A", points, contest="Cup", day=1), write())


def rules(desk: Desk, *airspace: str) -> list[str]:
    (shown,) = review_tasks(desk, ["A"], airspace=airspace)
    assert shown.review is not None
    return [finding.rule for finding in shown.review.open if finding.rule.startswith("airspace")]


def test_the_command_line_offers_every_kind() -> None:
    assert set(KINDS) == {kind.value for kind in Kind}


def test_a_file_makes_a_revision_and_the_same_file_none(desk, taken):
    done = taken(area("Moor", floor="GND", ceiling="FL95"), area("Fen", floor="1500ft MSL"))
    assert (done.revision, done.read, done.added, done.unchanged) == (1, 2, 2, 0)
    assert any("no ceiling: UNL taken (Fen)" in note for note in done.notes)
    again = taken(area("Moor", floor="GND", ceiling="FL95"), area("Fen", floor="1500ft MSL"))
    assert (again.revision, again.added, again.changed, again.unchanged) == (1, 0, 0, 2)
    assert [(info.name, info.number, info.count, info.source) for info in list_airspaces(desk)] == [
        ("air", 1, 2, "air.geojson")
    ]


def test_merge_keeps_what_the_file_lacks_and_replace_retires_it(desk, taken):
    taken(area("Moor"), area("Fen"))
    merged = taken(area("Moor", floor="800m AGL"))
    assert (merged.changed, merged.retired) == (1, 0)
    assert [volume.name for volume in show_airspace(desk, "air").volumes] == ["Fen", "Moor"]
    with pytest.raises(RefusedError) as asked:
        taken(area("Moor"), mode=Mode.REPLACE, confirmed=False)
    assert asked.value.code == "needs-confirmation"
    assert taken(area("Moor"), mode=Mode.REPLACE).retired == 1
    assert [volume.name for volume in show_airspace(desk, "air").volumes] == ["Moor"]
    assert [volume.name for volume in show_airspace(desk, "air@1").volumes] == ["Fen", "Moor"]
    assert [(i.number, i.added, i.changed, i.retired) for i in airspace_log(desk, "air")[1]] == [
        (3, 0, 1, 1), (2, 0, 1, 0), (1, 2, 0, 0),
    ]  # fmt: skip


def test_one_bad_volume_keeps_the_file_out_and_repair_takes_it_in(desk, taken):
    bow_tie = [[11.9, 48.7], [12.1, 48.8], [12.1, 48.7], [11.9, 48.8], [11.9, 48.7]]
    with pytest.raises(InputError) as refused:
        taken(area("Moor"), area("Bow", bow_tie), area("Bare", floor="1500"))
    assert refused.value.code == "volumes-rejected"
    told = " ".join(row["message"] for row in refused.value.details["rejected"])
    assert "Bow: its ring crosses" in told and "Bare: its floor" in told
    assert list_airspaces(desk) == ()
    mended = taken(area("Bow", bow_tie), repair=True)
    assert mended.added == 1 and "parted into 2" in mended.mended[0]


def test_exchanged_axes_show_against_the_waypoints_of_the_store(taken):
    with pytest.raises(InputError) as refused:
        taken(area("Moor", [[y, x] for x, y in SQUARE]))
    assert {row["code"] for row in refused.value.details["rejected"]} == {"exchanged-axes"}


def test_a_property_of_another_name_is_read(desk, taken):
    taken(area("x", title="Moor", low="FL95"), properties={"name": "title", "floor": "low"})
    (volume,) = show_airspace(desk, "air").volumes
    assert (volume.name, volume.floor) == ("Moor", parse_limit("FL95"))


def test_what_differs_is_told_by_name(desk, taken):
    taken(area("Moor", floor="GND"), area("Fen"))
    larger = [[11.8, 48.7], [12.1, 48.7], [12.1, 48.8], [11.8, 48.8], [11.8, 48.7]]
    taken(area("Moor", larger, floor="1500ft MSL"), area("Heath"), mode=Mode.REPLACE)
    changes = diff_airspace(desk, "air@1", "air").changes
    assert [v.name for v in changes.added] == ["Heath"] and [v.name for v in changes.retired] == ["Fen"]
    (changed,) = changes.changed
    assert changed.fields == ("floor",) and changed.ground is not None and "grew" in changed.ground.words
    assert str(diff_airspace(desk, "air").old) == "air@1"


def test_a_circle_leaves_no_place_within_its_radius_out(desk, taken, write):
    """Every vertex and every middle of a side lies at least the radius away: geodesics by pyproj."""
    shown = add_volume(desk, Drawn("own", "Ring", round="001", radius_m=3000.0), write())
    (volume,) = shown.volumes
    (ring,) = volume.polygons[0]
    sides = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in itertools.pairwise(ring)]
    off = [Geod(ellps="WGS84").inv(11.8105, 48.872, x / 1e7, y / 1e7)[2] for x, y in (*ring, *sides)]
    assert min(off) > 2999.9 and max(off) < 3002
    assert volume.kind is Kind.KEEP_OUT and volume.floor.text == "GND" and volume.ceiling.text == "UNL"


def test_a_volume_is_drawn_through_points_and_retired(desk, taken, write):
    shown = add_volume(desk, Drawn("own", "Hills", through=("001", "003", "004")), write())
    assert set(shown.volumes[0].polygons[0][0]) == {(118105000, 488720000), (124730000, 490510000),
                                                    (123260000, 486310000)}  # fmt: skip
    with pytest.raises(RefusedError):
        add_volume(desk, Drawn("own", "Hills", round="001", radius_m=3000.0), write())
    with pytest.raises(UsageError):
        add_volume(desk, Drawn("own", "Line", through=("001", "003")), write())
    with pytest.raises(UsageError):
        add_volume(desk, Drawn("own", "Both", through=("001", "003", "004"), round="001", radius_m=1.0), write())
    with pytest.raises(NotFoundError) as missing:
        retire_volume(desk, "own", "Hillls", write())
    assert "Hills" in (missing.value.hint or "")
    assert retire_volume(desk, "own", "Hills", write()).volumes == ()
    assert len(show_airspace(desk, "own@1").volumes) == 1


def test_what_is_written_out_reads_back_as_no_change(desk, taken, write, tmp_path):
    taken(area("Moor", floor="1500ft MSL", ceiling="FL95", times="Mon-Fri", frequency="123.505"), area("Fen"))
    for suffix in ("geojson", "kml"):
        path = str(tmp_path / f"out.{suffix}")
        done = export_airspace(desk, "air", path=path)
        assert (done.format, done.count, done.bytes) == (suffix, 2, Path(path).stat().st_size)
        assert import_airspace(desk, AirspaceImport(path, "air", mode=Mode.REPLACE), write()).revision == 1
    with pytest.raises(RefusedError):
        export_airspace(desk, "air", path=str(tmp_path / "out.kml"))


def test_undo_sets_volumes_back_and_refuses_where_they_were_changed_since(desk, taken, write):
    taken(area("Moor"))
    add_volume(desk, Drawn("air", "Ring", round="001", radius_m=3000.0), write())
    taken(area("Moor", floor="800m AGL"))
    undone = undo(desk, 3, write(confirmed=True))
    assert [str(one.what) for one in undone.stands] == ["airspace air@4"]
    assert [(v.name, v.floor.text) for v in show_airspace(desk, "air").volumes] == [("Moor", "800m AGL")]
    with pytest.raises(RefusedError) as refused:
        undo(desk, 2, write(confirmed=True))
    assert "volume Moor of airspace air" in str(refused.value.details)
    assert verify_store(desk).problems == ()


def test_a_contest_pins_a_revision_and_its_copy_carries_it(desk, taken, write):
    taken(area("Moor"))
    cup(desk, write)
    assert rules(desk) == []
    edit_contest(desk, "Cup", ContestEdit(airspace=("air",)), write())
    assert rules(desk) == ["airspace-on-leg"]
    taken(area("Moor", floor="800m AGL"), area("Fen"))
    (shown,) = review_tasks(desk, ["A"])
    assert shown.review is not None and shown.stale == ()
    assert shown.review.notes[-1] == "held against air@1, the newest is air@2: Moor floor GND to 800m AGL, Fen came"
    assert contest_log(desk, "Cup")[1][0].changes == ("airspace not set → air@1",)
    copied = copy_contest(desk, "Cup", ContestCopy("Next"), write()).shown
    assert [str(pin) for pin in copied.contest.airspace] == ["air@1"]
    edit_contest(desk, "Cup", ContestEdit(airspace=()), write())
    assert show_contest(desk, "Cup").contest.airspace == () and rules(desk) == []
    assert rules(desk, "air@1") == ["airspace-on-leg"]
    with pytest.raises(UsageError):
        edit_contest(desk, "Cup", ContestEdit(airspace=("air", "air@1")), write())


def test_heights_decide_where_the_contest_says_how_high_it_flies(desk, taken, write):
    taken(area("Shelf", floor="FL65"))
    cup(desk, write)
    edit_contest(desk, "Cup", ContestEdit(airspace=("air",)), write())

    def undecided() -> list[bool]:
        (shown,) = review_tasks(desk, ["A"])
        assert shown.review is not None
        return [bool(f.evidence.get("undecided")) for f in shown.review.open if f.rule == "airspace-on-leg"]

    assert undecided() == [True]
    altitude = {"m": 1800.0, "reference": "MSL", "text": "1800m MSL"}
    set_settings(desk, "Cup", {"working_altitude": altitude}, {}, write())
    assert undecided() == [True]
    # FL065 is 1981 m of standard pressure; near 1013 hPa a hectopascal is some 8.3 m (ICAO Doc 7488).
    set_settings(desk, "Cup", {"qnh_hpa": 1018.0}, {}, write())
    assert undecided() == []
    set_settings(desk, "Cup", {"qnh_hpa": 985.0}, {}, write())
    assert undecided() == [False]


def test_tasks_are_found_that_avoid_a_volume_or_all_of_an_airspace(desk, taken, write):
    taken(area("Moor"), area("Far", [[x + 3, y] for x, y in SQUARE]))
    cup(desk, write)
    new_task(desk, NewTask("B", tuple(map(PointRequest, ("001", "005", "002", "001"))), contest="Cup"), write())

    def found(*avoid: str) -> list[str]:
        return [one.row.task for one in find_tasks(desk, TaskFindRequest(avoid=avoid)).tasks]

    assert found() == ["A", "B"]
    assert found("air") == found("air:Moor") == ["B"]
    assert found("air:Far") == ["A", "B"]
    altitude = {"m": 1000.0, "reference": "MSL", "text": "1000m MSL"}
    set_settings(desk, "Cup", {"working_altitude": altitude}, {}, write())
    taken(area("Moor", floor="1500m MSL"))
    assert found("air") == ["A", "B"] and found("air@1") == ["B"]
    with pytest.raises(NotFoundError):
        found("air:Mooor")


def test_a_hand_out_tells_the_airspace_that_changed_since_the_last(desk, taken, write, tmp_path):
    taken(area("Moor"))
    cup(desk, write)

    def handed_out(**how: Any) -> str:
        done = hand_out(desk, HandoutRequest("Cup", 1, str(tmp_path / "day"), **how), write(confirmed=True))
        return "\n".join(value.words() for change in done.sheets[0].changes for value in change.values)

    edit_contest(desk, "Cup", ContestEdit(airspace=("air",)), write())
    assert handed_out() == ""
    assert "Moor" in (tmp_path / "day" / "task-sheet.html").read_text(encoding="utf-8")
    assert handed_out() == ""
    taken(area("Moor", floor="800m AGL"))
    assert handed_out() == ""
    edit_contest(desk, "Cup", ContestEdit(airspace=("air",)), write())
    told = handed_out()
    assert "800m AGL" in told and "air@2" in told
    assert "air@1" in handed_out(airspace=("air@1",))


def test_a_dump_brings_airspace_and_pins_into_another_store(desk, taken, write, tmp_path):
    taken(area("Moor", times="Mon-Fri"), area("Fen"))
    cup(desk, write)
    edit_contest(desk, "Cup", ContestEdit(airspace=("air@1",)), write())
    dump_store(desk, str(tmp_path / "a.dump"), write())
    other = Desk(str(tmp_path / "other.db"), "Ann")
    load_store(other, str(tmp_path / "a.dump"), write())
    assert show_airspace(other, "air").volumes == show_airspace(desk, "air").volumes
    assert show_contest(other, "Cup").contest == show_contest(desk, "Cup").contest
    assert verify_store(other).problems == ()
