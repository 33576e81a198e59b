"""Random histories written into a store, on both engines: what is read, undone, restored and merged is what was."""

from __future__ import annotations

import hashlib
import itertools
import random

import pytest

from taskdb.core.history.changes import SetChanges, diff, values_of
from taskdb.core.model import E7, Position, Radio, Runway, Typed, Waypoint
from taskdb.core.plain import canonical_json
from taskdb.errors import RefusedError
from taskdb.services.desk import Write
from taskdb.services.sets.history import diff_sets, restore_set
from taskdb.services.sets.patches import ApplyRequest, apply_patch, write_patch
from taskdb.services.sets.set import show_set
from taskdb.services.store.store import read_journal
from taskdb.services.store.undo import undo
from taskdb.store import sets
from tests import building
from tests.applying import apply
from tests.building import writing_rows

SEEDS = range(6)
NAMES = ("Ormsau", "Kelmried", "Tannwöhr", "Brüxfeld", "Greifenlohe", "")
UNDO = Write("undo", confirmed=True)


@pytest.fixture
def desk(store_url):
    return building.desk(store_url)


def a_waypoint(rng, identity, code):
    return Waypoint(
        code=code,
        name=rng.choice(NAMES),
        position=Position.from_e7(rng.randrange(47 * E7, 50 * E7), rng.randrange(10 * E7, 13 * E7)),
        elevation_m=rng.choice([None, rng.randrange(3000, 9000) / 10]),
        radio=rng.choice([(), (Radio("123.505", "launch"),)]),
        runways=rng.choice([(), (Runway("07/25", 71.0, 850.0, 30.0, "grass"), Runway("16/34", one_way=True))]),
        description=rng.choice([None, "north of the river; grass"]),
        identity=identity,
        typed=rng.choice([None, Typed("4852.320N", "01148.630E", "packed-minutes", 3)]),
    )


def next_state(rng, state, identities):
    """A state that some random edits lead to: edits, renumberings, swaps, retirements, additions."""
    result = {w.identity: w for w in state}
    for _ in range(rng.randint(1, 5)):
        here = sorted(result)
        taken = {w.code for w in result.values()}
        free = [code for n in range(40) if (code := f"{n:03d}") not in taken]
        action = rng.choice(["add", "add", "edit", "edit", "code", "swap", "retire"])
        if action == "add" or not here:
            identity = f"{next(identities):032x}"
            result[identity] = a_waypoint(rng, identity, rng.choice(free))
        elif action == "retire":
            del result[rng.choice(here)]
        elif action == "swap" and len(here) > 1:
            one, other = rng.sample(here, 2)
            first, second = result[one], result[other]
            result[one] = a_waypoint(rng, one, second.code)
            result[other] = a_waypoint(rng, other, first.code)
        else:
            one = rng.choice(here)
            result[one] = a_waypoint(rng, one, rng.choice(free) if action == "code" else result[one].code)
    return sorted(result.values(), key=lambda w: w.code)


def write_state(desk, name, state):
    """Write the next revision of a set so that it is `state`."""
    with writing_rows(desk, Write("set import")) as w:
        head = sets.find_set(w.connection, name) or sets.create_set(w, name)
        before = sets.waypoints_at(w.connection, head.id, head.newest) if head.newest else []
        found = diff(before, state)
        sets.write_revision(w, head, SetChanges(added=found.added, changed=found.changed, retired=found.retired))


def digest(waypoints):
    """A hash of all that a state holds: canonical values, identities, and what was typed."""
    rows = [
        [w.identity, repr(sorted(values_of(w).items())), repr(w.typed), w.extras]
        for w in sorted(waypoints, key=lambda w: w.identity)
    ]
    return hashlib.sha256(canonical_json(rows).encode()).hexdigest()


def a_history(desk, seed, name="region", length=8):
    """Write a random history and return its states, the first one empty: states[n] is revision n."""
    rng, identities = random.Random(seed), itertools.count(seed * 10_000 + 1)
    states = [[]]
    for _ in range(length):
        states.append(next_state(rng, states[-1], identities))
        write_state(desk, name, states[-1])
    return states


def standing(desk, reference="region"):
    return show_set(desk, reference).waypoints


@pytest.mark.parametrize("seed", SEEDS)
def test_every_revision_reads_as_it_was_written(desk, seed):
    states = a_history(desk, seed)
    for number, state in enumerate(states[1:], 1):
        assert digest(standing(desk, f"region@{number}")) == digest(state)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_difference_of_any_two_revisions_leads_from_one_to_the_other(desk, seed):
    states = a_history(desk, seed)
    for first, second in itertools.product(range(1, len(states)), repeat=2):
        found = diff_sets(desk, f"region@{first}", f"region@{second}").difference
        assert digest(apply(states[first], found)) == digest(states[second])
        assert found.is_empty == diff(states[first], states[second]).is_empty


@pytest.mark.parametrize("seed", SEEDS)
def test_undo_walks_back_state_by_state_and_undoing_the_undos_walks_forward(desk, seed):
    states = a_history(desk, seed)
    undos = []
    for state in reversed(states[:-1]):
        undos.append(undo(desk, None, UNDO).operation)
        assert digest(standing(desk)) == digest(state)
    for number, state in zip(reversed(undos), states[1:], strict=True):
        undo(desk, number, UNDO)
        assert digest(standing(desk)) == digest(state)


@pytest.mark.parametrize("seed", SEEDS)
def test_undoing_here_and_there_takes_back_exactly_one_operation_or_refuses(desk, seed):
    states = a_history(desk, seed)
    rng = random.Random(seed)
    for _ in range(12):
        operation = rng.choice(read_journal(desk).operations)  # on PostgreSQL a refused one leaves a gap
        number = operation.number
        before = standing(desk)
        (wrote,) = operation.wrote
        revision = int(wrote.rpartition("@")[2])
        old = list(standing(desk, f"region@{revision - 1}")) if revision > 1 else []
        mine = diff(old, standing(desk, f"region@{revision}"))
        try:
            undo(desk, number, UNDO)
        except RefusedError as refused:
            assert refused.code in ("already-undone", "changed-since")
            assert digest(standing(desk)) == digest(before)
            continue
        after = {w.identity: w for w in standing(desk)}
        touched = {w.identity for w in (*mine.added, *mine.retired, *(new for _, new in mine.changed))}
        assert {i: w for i, w in after.items() if i not in touched} == {
            w.identity: w for w in before if w.identity not in touched
        }
        assert digest([w for i, w in after.items() if i in touched]) == digest(
            [w for w in old if w.identity in touched]
        )
    for number, state in enumerate(states[1:], 1):
        assert digest(standing(desk, f"region@{number}")) == digest(state)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_number_is_ever_used_again(desk, seed):
    a_history(desk, seed, length=4)
    undo(desk, None, UNDO)
    undo(desk, None, Write("undo", preview=True))
    with pytest.raises(RefusedError):
        undo(desk, 4, UNDO)
    restore_set(desk, "region@1", Write("set restore"))
    numbers = [one.number for one in read_journal(desk).operations]
    assert numbers == sorted(set(numbers), reverse=True)
    with desk.store.reading() as c:
        revisions = [info.number for info in sets.set_log(c, sets.find_set(c, "region").id)]
    assert revisions == list(range(len(revisions), 0, -1))


@pytest.mark.parametrize("seed", SEEDS)
def test_restoring_gives_the_state_of_any_revision(desk, seed):
    states = a_history(desk, seed)
    for number in random.Random(seed).sample(range(1, len(states) - 1), 4):
        restore_set(desk, f"region@{number}", Write("set restore"))
        assert digest(standing(desk)) == digest(states[number])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_patch_through_a_file_makes_a_copy_of_an_older_revision_equal(desk, seed, tmp_path):
    states = a_history(desk, seed)
    with writing_rows(desk, Write("set copy")) as w:
        sets.write_revision(w, sets.create_set(w, "copy"), SetChanges(added=states[3]))
    path = str(tmp_path / "p.json")
    write_patch(desk, "region@3", "region", path)
    apply_patch(desk, ApplyRequest(path, "copy"), Write("set apply"))
    assert {w.identity: values_of(w) for w in standing(desk, "copy")} == {
        w.identity: values_of(w) for w in states[-1]
    }  # fmt: skip
