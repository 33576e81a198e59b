"""Some of many courses that differ: as a slow search by likeness takes them, whatever arrives in which block."""

from __future__ import annotations

import numpy as np
import pytest

from taskdb.core.course.likeness import likeness
from taskdb.core.proposing import choosing
from taskdb.core.proposing.apart import that_differ
from taskdb.core.proposing.choosing import best_that_differ, every_one
from taskdb.core.proposing.courses import Courses
from taskdb.core.proposing.criteria import weights_with
from taskdb.core.proposing.judging import Judge
from taskdb.core.quantities import Wind
from tests.unit.proposals import HOME, all_pairs, block, given, turn_points


def one_by_one(points, rows, apart_m):
    """Take the first course, then each next one that no taken one is nearer to than the limit, by `likeness`."""
    taken = []
    for number, row in enumerate(rows):
        course = [HOME, *(points[n].position for n in row), HOME]
        others = ([HOME, *(points[n].position for n in rows[other]), HOME] for other in taken)
        if all(likeness(course, other).apart_m >= apart_m for other in others):
            taken.append(number)
    return taken


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("apart_m", [0.0, 20_000.0, 60_000.0])
def test_courses_that_differ_are_those_that_a_search_by_likeness_takes(seed, apart_m) -> None:
    points = turn_points(14, seed)
    rng = np.random.default_rng(seed)
    rows = [tuple(rng.choice(14, 3, replace=False).tolist()) for _ in range(70)]
    rows = list(dict.fromkeys(rows))
    found = list(that_differ(given(points).places, np.array(rows), apart_m))
    assert found == one_by_one(points, rows, apart_m)


def offered(points, rows, size):
    """Return the courses as a search hands them on, in blocks."""
    whole = block(rows, points)
    for start in range(0, len(rows), size):
        part = whole.only(slice(start, start + size))
        yield Courses(
            part.turns, part.length_m, part.perimeter_m, part.margin_percent, np.ones(len(part), dtype=np.bool_)
        )


@pytest.fixture
def judged():
    points = turn_points(20, 3)
    return points, Judge(given(points, wind=Wind(200.0, 15.0)), weights_with({}))


def test_the_best_come_first_and_no_two_are_nearer_than_asked_for(judged) -> None:
    points, judge = judged
    rows = [(a, b) for a, b in all_pairs(20) if a < b]
    shown = best_that_differ(offered(points, rows, 50), judge, apart_m=20_000.0, limit=10)
    assert shown.total == shown.compared == len(rows)
    assert len(shown.scores) == 10
    assert (np.diff(shown.scores) <= 0).all()
    courses = [[HOME, *(points[n].position for n in row), HOME] for row in shown.block.turns.tolist()]
    assert all(likeness(a, b).apart_m >= 20_000.0 for n, a in enumerate(courses) for b in courses[:n])
    # The first is the best of all.
    assert shown.scores[0] == pytest.approx(judge.judge(block(rows, points), np.ones(len(rows), bool)).scores.max())


def test_blocks_of_any_size_and_order_give_the_same(judged) -> None:
    points, judge = judged
    rows = [(a, b) for a, b in all_pairs(20) if a < b]
    whole = best_that_differ(offered(points, rows, 1000), judge, apart_m=20_000.0, limit=10)
    other = best_that_differ(offered(points, rows[::-1], 7), judge, apart_m=20_000.0, limit=10)
    assert whole.block.turns.tolist() == other.block.turns.tolist()
    assert whole.scores.tolist() == other.scores.tolist()


def test_what_cannot_be_kept_is_counted(judged, monkeypatch) -> None:
    points, judge = judged
    rows = [(a, b) for a, b in all_pairs(20) if a < b]
    whole = best_that_differ(offered(points, rows, 10), judge, apart_m=0.0, limit=5)
    monkeypatch.setattr(choosing, "MOST_KEPT", 12)
    few = best_that_differ(offered(points, rows, 10), judge, apart_m=0.0, limit=5)
    assert (few.total, few.compared) == (len(rows), 12)
    assert few.block.turns.tolist() == whole.block.turns.tolist()


def test_nothing_found_shows_nothing(judged) -> None:
    _, judge = judged
    shown = best_that_differ(iter(()), judge, apart_m=20_000.0, limit=10)
    assert (shown.total, len(shown.scores)) == (0, 0)
    assert every_one(iter(()), judge.admits, 10)[0] == 0


def test_all_are_listed_in_order_of_their_turn_points_or_only_counted(judged) -> None:
    points, judge = judged
    rows = [(5, 2), (0, 9), (3, 1), (0, 4)]
    total, listed = every_one(offered(points, rows, 3), judge.admits, 4)
    assert total == 4
    assert listed is not None and listed.turns.tolist() == [[0, 4], [0, 9], [1, 3], [2, 5]]
    assert every_one(offered(points, rows, 3), judge.admits, 3) == (4, None)
