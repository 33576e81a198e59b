"""Every task format: what is written reads back the same, up to what it says is lost; no bytes break a reader."""

from __future__ import annotations

import functools
import io
import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from taskdb.core.course.assembly import Chosen, assemble, defaults_of
from taskdb.core.model import Place, Role, Shape, Task, TaskPoint, ZoneFrom
from taskdb.errors import TaskdbError
from taskdb.formats.exported import ExportedTask, place_label
from taskdb.formats.known import TASKS_WRITTEN
from taskdb.formats.registry import ReadPoint, TaskReading, read_tasks, write_task
from tests.formats.random_tasks import cleaned, random_tasks

WHOLE = sorted({"gpx", "geojson", "kml"})


@functools.cache
def tasks() -> list[ExportedTask]:
    """What XML 1.0 and JSON hold of what the store keeps: not the two code points that are no characters."""
    return [task for task in map(cleaned, random_tasks(200, seed=11)) if "\\ufffe" not in repr(task)]


def there(exported: ExportedTask, format: str) -> bytes:
    stream = io.BytesIO()
    write_task(stream, exported, format)
    return stream.getvalue()


def back(exported: ExportedTask, format: str) -> TaskReading:
    (reading,) = read_tasks(io.BytesIO(there(exported, format)))
    assert reading.problems == ()
    assert reading.format == format
    return reading


def place_of(point: ReadPoint | None) -> Place | None:
    return None if point is None else Place(point.code, point.name, point.position, point.elevation_m)


def points_of(reading: TaskReading, task: Task) -> tuple[TaskPoint, ...]:
    """Put the points that were read together as a task is."""
    chosen = [Chosen(place_of(p), p.zone) for p in reading.points]  # type: ignore[arg-type]
    made = assemble(chosen, task.type, defaults_of(None))
    return tuple(replace(p, zone_from=r.zone_from or p.zone_from) for p, r in zip(made, reading.points, strict=True))


@pytest.mark.parametrize("format", ["gpx", "geojson", "kml", "csv"])
def test_points_zones_and_order_read_back_the_same(format: str) -> None:
    for exported in tasks():
        reading = back(exported, format)
        assert points_of(reading, exported.task) == exported.task.points
        assert [p.role for p in reading.points] == [p.role for p in exported.task.points]


@pytest.mark.parametrize("format", WHOLE)
def test_what_belongs_to_the_whole_task_reads_back_the_same(format: str) -> None:
    for exported in tasks():
        task, reading = exported.task, back(exported, format)
        assert reading.name == task.name
        assert (reading.type, reading.time_s, reading.speed_kmh) == (task.type, task.time_s, task.speed_kmh)
        assert (reading.free, reading.tags) == (task.free, task.tags)
        assert (place_of(reading.take_off), place_of(reading.landing)) == (task.take_off, task.landing)
        said = {
            "revision": str(exported.revision),
            "set": f"{task.set_name}@{task.set_revision}",
            "fingerprint": exported.fingerprint,
            "contest": task.contest,
            "day": None if task.day is None else str(task.day),
            "class": task.class_name,
            "variant": task.variant,
            "status": task.status.value,
            "earth": task.rules.earth.value,
            "start_deduction": task.rules.start_deduction.value,
            "finish_deduction": task.rules.finish_deduction.value,
        }
        assert dict(reading.said) == {name: text for name, text in said.items() if text is not None}


def plain_letters(text: str) -> str:
    """Return what a declaration keeps of a text, by the specification's list: printable ASCII without $ * ! \\ ^ ~."""
    ascii_only = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return " ".join(re.sub(r"[^\x20-\x7e]|[$*!\\^~]", " ", ascii_only).split())


def test_a_declaration_reads_back_to_its_last_metre_and_letter() -> None:
    seen = 0
    for exported in tasks():
        task, reading = exported.task, back(exported, "igc")
        assert len(reading.points) == len(task.points)
        for point, read in zip(task.points, reading.points, strict=True):
            for ours, theirs in zip(
                (point.place.position.latitude_e7, point.place.position.longitude_e7),
                (read.position.latitude_e7, read.position.longitude_e7),
                strict=True,
            ):
                assert abs((ours - theirs + 1_800_000_000) % 3_600_000_000 - 1_800_000_000) <= 84  # half of 0.001'
            label = plain_letters(place_label(point.place))
            if (
                label.isascii() and label == place_label(point.place) and len(label) <= 22
            ):  # beside an area 22 letters are left
                assert read.name == label
                seen += 1
            is_area = point.role is Role.AREA and point.zone.shape in (Shape.AREA, Shape.CYLINDER)
            assert (read.zone is not None) == is_area
            if is_area and read.zone is not None:
                assert read.zone.radius_m == pytest.approx(point.zone.radius_m, abs=0.5)
                assert (read.zone.inner_radius_m or 0) == pytest.approx(point.zone.inner_radius_m or 0, abs=0.5)
                radials = (point.zone.from_radial_deg, point.zone.to_radial_deg)
                assert (read.zone.from_radial_deg, read.zone.to_radial_deg) == radials
        assert (reading.take_off is None) == (task.take_off is None)
        assert (reading.landing is None) == (task.landing is None)
        assert reading.declared_at == exported.created_at and reading.flight_date is None
    assert seen > 100


@pytest.mark.parametrize("format", sorted(TASKS_WRITTEN))
def test_what_is_read_and_written_again_is_the_same_file(format: str) -> None:
    def read_back(exported: ExportedTask) -> ExportedTask:
        return replace(exported, task=replace(exported.task, points=points_of(back(exported, format), exported.task)))

    for exported in tasks()[:40]:
        # A declaration leaves letters out: what is read of it is what it keeps.
        kept = read_back(exported) if format == "igc" else exported
        assert there(read_back(kept), format) == there(kept, format)


def test_a_zone_from_the_defaults_stays_one() -> None:
    assert {p.zone_from for t in tasks() for p in t.task.points} == {ZoneFrom.OWN, ZoneFrom.BUILT_IN}


@functools.cache
def seeds() -> list[bytes]:
    return [there(tasks()[i], name) for i, name in enumerate(sorted(TASKS_WRITTEN) * 3)]


RECORDED = (
    b"AXXX001\r\nHFDTE160701\r\nC150701213841160701000102 500K Tri\r\nC0000000N00000000ETAKEOFF\r\n"
    b"C5110179N00102644WSTART A\r\nC5209092N00255227W00120000032000122000182000TURN AREA B\r\n"
    b"C5230147N00017612WTURN C\r\nC5110179N00102644WFINISH A\r\nC0000000N00000000ELANDING\r\n"
    b"B0902455110179N00102644WA0013500150\r\nB0903455210179N00102644WA0013500150\r\n"
)


@st.composite
def spoilt(draw: Callable[..., int]) -> bytes:
    """A good file with some of its bytes cut out, doubled or changed."""
    content = bytearray(draw(st.sampled_from([*seeds(), RECORDED, RECORDED + RECORDED])))
    nasty = [b"", b'"', b"<", b"\x00", b"\xff\xfe", b"1e999", b"NaN", b"null", b"[[[", b"\r", b"C", b"9" * 5000, b"{}"]
    for _ in range(draw(st.integers(1, 5))):
        at, size = draw(st.integers(0, len(content))), draw(st.integers(0, 40))
        content[at : at + size] = draw(st.one_of(st.binary(max_size=4), st.sampled_from(nasty)))
    return bytes(content)


@pytest.mark.slow
@settings(max_examples=1500, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(spoilt(), st.binary(max_size=200)), st.sampled_from([None, *sorted(TASKS_WRITTEN)]))
def test_no_bytes_break_a_reader_of_tasks(content: bytes, format: str | None) -> None:
    try:
        readings = read_tasks(io.BytesIO(content), format=format)
    except TaskdbError as error:
        assert error.message and error.hint
        return
    for reading in readings:
        for point in reading.points:
            assert -90 <= point.position.latitude_deg <= 90 and -180 <= point.position.longitude_deg < 180
        repr(reading).encode()
