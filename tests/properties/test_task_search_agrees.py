"""Searching tasks in SQL and deciding in Python are one: a filter value gives the same tasks, on both engines."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from taskdb.core.course import assembly
from taskdb.core.filters.tasks import Range, Sector, TaskFacts, TaskFilter
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import FlownRecord, Place, Position, ShapeKind, Status, Task, TaskType, Waypoint
from taskdb.services.tasks.keeping import save_task
from taskdb.store import flown as flown_rows, sets as set_rows, task_lines, task_search
from taskdb.store.engine import NewOperation, open_store
from tests.building import flown_by_logs

NAMES = ["Mühle", "Straße 7", "Quarry", "O'Hara", "100%", "a_b", "Turm"]
TAGS = ["fast", "50%", 'a"b', "wave"]


def made(rng: random.Random, number: int, places: list[Place]) -> Task:
    task_type = rng.choice([TaskType.RACING, TaskType.ASSIGNED_AREA, TaskType.DECLARED])
    chosen = [assembly.Chosen(place) for place in rng.sample(places, rng.randrange(2, 6))]
    if rng.random() < 0.5:
        chosen.append(chosen[0])
    return Task(
        name=f"{rng.choice(NAMES)} {number}",
        type=task_type,
        points=assembly.assemble(chosen, task_type, assembly.defaults_of({})),
        set_name="s",
        set_revision=1,
        day=rng.choice([None, 1, 2]),
        class_name=rng.choice([None, "Club", "Open"]),
        status=rng.choice(list(Status)),
        time_s=rng.choice([None, None, 7200, 10800]),
        speed_kmh=rng.choice([None, 80.0, 100.0]),
        tags=tuple(sorted(rng.sample(TAGS, rng.randrange(3)))),
    )


def record(rng: random.Random) -> FlownRecord:
    return FlownRecord(
        flown_on=f"2026-07-{rng.randrange(1, 6):02d}",
        wind_from_deg=rng.choice([None, 0.0, 90.0, 200.0, 359.0]),
        starters=rng.choice([None, 0, 10]),
        finishers=rng.choice([None, 0, 5, 10]),
        by_logs=rng.choice(
            [None, None, flown_by_logs(starters=8, finishers=1), flown_by_logs(starters=0, finishers=0)]
        ),
    )


@pytest.fixture
def tasks(store_url):
    """Return an open store with forty tasks and their facts."""
    rng = random.Random(7)
    store = open_store(store_url)
    # A point on either side of the antimeridian, and one near a pole: boxes must not lose them.
    spots = [(rng.uniform(47, 49), rng.uniform(9, 12)) for _ in range(9)] + [(-17.0, 179.95), (-17.0, -179.95)]
    waypoints = [
        Waypoint(f"{i:02d}", rng.choice(NAMES), Position.at(*spot), identity=f"{i:032x}")
        for i, spot in enumerate(spots)
    ]
    places = [Place(w.code, w.name, w.position, None, w.identity) for w in waypoints]
    facts = {}
    with store.writing(NewOperation("2026-01-01T00:00:00Z", "a", "test")) as writing:
        head = set_rows.create_set(writing, "s")
        set_rows.write_revision(writing, head, SetChanges(added=waypoints))
        for number in range(40):
            task = made(rng, number, places)
            saved = save_task(writing, None, None, task)
            for _ in range(rng.choice([0, 0, 1, 2, 4])):
                flown_rows.write_flown(writing, saved.id, record(rng), withdrawn=rng.random() < 0.2)
            facts[saved.id] = (task, flown_rows.flown_records(writing.connection, saved.id))
    with store.reading() as c:
        rows = {row.head.id: row for row in task_lines.list_tasks(c)}
    yield store, {i: facts_of(task, rows[i], flown) for i, (task, flown) in facts.items()}
    store.engine.dispose()


def facts_of(task, row, flown) -> TaskFacts:
    return TaskFacts(
        name=task.name,
        contest=None,
        day=task.day,
        class_name=task.class_name,
        status=task.status,
        type=task.type,
        task_m=row.task_m,
        time_s=task.time_s,
        speed_kmh=task.speed_kmh,
        shape=row.shape,
        is_fai_triangle=row.fai_triangle,
        first_course_deg=row.first_course_deg,
        tags=task.tags,
        codes=tuple(p.place.code for p in task.points),
        names=tuple(p.place.name for p in task.points),
        positions=tuple(p.place.position for p in task.points),
        flown=flown,
    )


def maybe(strategy):
    return st.one_of(st.none(), st.none(), strategy)


def ranges(low, high):
    ends = st.one_of(st.none(), st.floats(low, high))
    return st.builds(Range, ends, ends)


BEARINGS = st.sampled_from([0.0, 45.0, 90.0, 180.0, 200.0, 270.0, 359.0])
FILTERS = st.builds(
    TaskFilter,
    day=maybe(st.sampled_from([1, 2, 3])),
    class_name=maybe(st.sampled_from(["Club", "Open", "club"])),
    status=maybe(st.sampled_from(list(Status))),
    type=maybe(st.sampled_from(list(TaskType))),
    distance_m=maybe(ranges(0, 900_000)),
    duration_s=maybe(ranges(0, 20_000)),
    through=st.sampled_from([(), (), ("00",), ("01", "02"), ("9",)]),
    near=st.builds(Position.at, st.floats(47, 49), st.floats(9, 12)) | st.just(Position.at(-17.0, 180.0)),
    within_m=maybe(st.floats(100, 200_000)),
    heading=maybe(st.builds(Sector, BEARINGS, BEARINGS)),
    shape=maybe(st.sampled_from(list(ShapeKind))),
    is_fai_triangle=maybe(st.booleans()),
    tags=st.sampled_from([(), (), ("fast",), ("50%",), ('a"b',), ("wave", "fast"), ("5",), ("%",)]),
    text=maybe(st.sampled_from(["muhle", "muehle", "strasse", "STRA 7", "o hara", "100", "a b", "%", "_", "turm 1"])),
    flown_after=maybe(st.sampled_from(["2026-07-02", "2026-07-04", "2026-08-01"])),
    wind_from=maybe(st.builds(Sector, BEARINGS, BEARINGS)),
    finish_rate_percent=maybe(ranges(0, 100)),
)


def test_a_filter_in_sql_finds_what_it_accepts_in_python(tasks):
    store, facts = tasks

    @settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
    @given(FILTERS)
    def agree(wanted):
        with store.reading() as c:
            found = set(task_search.found_ids(c, wanted))
        assert found == {i for i, known in facts.items() if wanted.accepts(known)}

    agree()


def test_the_filters_tell_tasks_apart(tasks):
    """The property would hold for a search that finds nothing: it must find some and leave some."""
    store, facts = tasks
    with store.reading() as c:
        for wanted in (
            TaskFilter(text="muehle"),
            TaskFilter(near=Position.at(-17.0, 180.0), within_m=10_000.0),
            TaskFilter(finish_rate_percent=Range(50, None)),
            TaskFilter(heading=Sector(270, 90)),
        ):
            assert 0 < len(task_search.found_ids(c, wanted)) < len(facts)
