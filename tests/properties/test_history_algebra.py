"""The algebra of differences over random histories: diff, merge, and patches as text."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

from hypothesis import given, settings, strategies as st

from taskdb.core.history.changes import SetDiff, changed_fields, diff, values_of
from taskdb.core.history.merge import WHOLE, Conflict, ConflictKind, Merged, Take, merge
from taskdb.core.history.patch import Patch, Reason, patch_text
from taskdb.core.history.patch_reading import read_patch
from taskdb.core.model import Feature, Landable, Position, Radio, Runway, Typed, Waypoint
from tests.applying import apply

# Places on a coarse lattice of about 11 km, so that two waypoints are one place or far apart, never nearly one.
PLACES = st.builds(lambda i, j: Position.at(48.0 + i / 10, 11.0 + j / 10), st.integers(0, 9), st.integers(0, 9))
RUNWAYS = st.lists(
    st.builds(
        Runway,
        designator=st.sampled_from(["07/25", "16/34", None]),
        heading_true_deg=st.sampled_from([None, 71.0, 160.5]),
        length_m=st.sampled_from([None, 600.0, 850.0]),
        surface=st.sampled_from([None, "grass", "asphalt"]),
        one_way=st.booleans(),
    ),
    max_size=3,
).map(tuple)
RADIO = st.lists(
    st.builds(Radio, st.sampled_from(["123.505", "122.480"]), st.sampled_from([None, "launch"])), max_size=2
).map(tuple)
VALUES = {
    "name": st.sampled_from(["Ormsau", "Kelmried", "Tannwöhr", "Brüxfeld", ""]),
    "position": PLACES,
    "elevation_m": st.sampled_from([None, 389.0, 391.5]),
    "landable": st.sampled_from([None, *Landable]),
    "feature": st.sampled_from([None, *Feature]),
    "radio": RADIO,
    "runways": RUNWAYS,
    "description": st.sampled_from([None, "grass; north of the river", 'said "so"', "ß\\;"]),
    "typed": st.sampled_from([None, Typed(latitude="4852.320N", longitude="01148.630E", decimals=3)]),
}


@st.composite
def states(draw, size=6):
    """A state: up to `size` waypoints with identities and codes of their own."""
    count = draw(st.integers(0, size))
    codes = draw(st.permutations([f"{n:03d}" for n in range(size + 3)]))
    return [
        Waypoint(code=codes[n], identity=f"i{n}", **{name: draw(values) for name, values in VALUES.items()})
        for n in range(count)
    ]


@st.composite
def successors(draw, state, tag):
    """A state that some edits lead to from `state`: changes, renumberings, retirements, additions."""
    result = {w.identity: w for w in state}
    new = itertools.count()
    for _ in range(draw(st.integers(0, 4))):
        action = draw(st.sampled_from(["edit", "edit", "code", "swap", "retire", "add"]))
        here = sorted(result)
        free = [f"{n:03d}" for n in range(12) if f"{n:03d}" not in {w.code for w in result.values()}]
        if action == "add":
            values = {name: draw(strategy) for name, strategy in VALUES.items()}
            identity = f"{tag}{next(new)}"
            result[identity] = Waypoint(code=draw(st.sampled_from(free)), identity=identity, **values)
        elif here and action == "retire":
            del result[draw(st.sampled_from(here))]
        elif len(here) > 1 and action == "swap":
            a, b = draw(st.permutations(here))[:2]
            first, second = result[a], result[b]
            result[a], result[b] = replace(first, code=second.code), replace(second, code=first.code)
        elif here:
            name = "code" if action == "code" else draw(st.sampled_from(sorted(VALUES)))
            value = draw(st.sampled_from(free)) if action == "code" else draw(VALUES[name])
            one = draw(st.sampled_from(here))
            result[one] = replace(result[one], **{name: value})
    return sorted(result.values(), key=lambda w: w.code)


@st.composite
def forks(draw):
    """A base and two states that lead on from it independently."""
    base = draw(states())
    return base, draw(successors(base, "a")), draw(successors(base, "b"))


def seen(state):
    """What a state is: the canonical values by identity."""
    return {w.identity: values_of(w) for w in state}


def no_new_identity() -> str:
    raise AssertionError("every addition here carries its identity")


def merged(ours, theirs, decide=lambda _: None, once_here=()) -> Merged:
    return merge(ours, theirs, new_identity=no_new_identity, decide=decide, once_here=once_here)


@given(forks())
def test_a_state_does_not_differ_from_itself(fork):
    base, _, _ = fork
    assert diff(base, base).is_empty


@given(forks())
def test_applying_a_difference_gives_the_other_state(fork):
    _, a, b = fork
    assert seen(apply(a, diff(a, b))) == seen(b)


@given(forks())
def test_merging_into_the_base_is_applying(fork):
    base, a, _ = fork
    done = merged(base, diff(base, a))
    assert done.conflicts == ()
    assert seen(apply(base, done.changes)) == seen(a)


@given(forks())
def test_merging_with_the_base_changes_nothing(fork):
    base, a, _ = fork
    done = merged(a, diff(base, base))
    assert done.conflicts == () and done.changes.is_empty


@given(forks())
def test_merging_what_stands_already_changes_nothing(fork):
    base, a, _ = fork
    done = merged(a, diff(base, a), once_here={w.identity for w in base})
    assert done.conflicts == () and done.changes.is_empty


def key(conflict: Conflict):
    """What is in conflict, named alike from both sides."""
    if conflict.kind in (ConflictKind.CODE, ConflictKind.ADDED):
        wanted = conflict.wanted if conflict.kind is ConflictKind.CODE else conflict.code
        return "code", wanted
    return conflict.code, conflict.field


@given(forks())
@settings(max_examples=200)
def test_conflicts_are_symmetric(fork):
    base, a, b = fork
    once = {w.identity for w in base}
    onto_b = merged(b, diff(base, a), once_here=once)
    onto_a = merged(a, diff(base, b), once_here=once)
    assert {key(c) for c in onto_b.conflicts} == {key(c) for c in onto_a.conflicts}
    if not onto_b.conflicts:
        # By code: where both added the same, each keeps the identity that it gave.
        first = {w.code: dict(values_of(w)) for w in apply(b, onto_b.changes)}
        second = {w.code: dict(values_of(w)) for w in apply(a, onto_a.changes)}
        for values in (*first.values(), *second.values()):
            values["runways"] = tuple(sorted(values["runways"], key=repr))  # their order is each side's own
        assert first == second


@given(forks(), st.sampled_from(Take))
@settings(max_examples=200)
def test_a_merge_that_is_decided_has_unique_codes_and_every_conflict_was_asked(fork, take):
    base, a, b = fork
    asked = merged(b, diff(base, a), once_here={w.identity for w in base}).conflicts
    done = merged(b, diff(base, a), lambda _: take, once_here={w.identity for w in base})
    assert {key(c) for c in asked if c.kind is not ConflictKind.CODE} <= {key(c) for c, _ in done.decided}
    left = [c for c in done.conflicts if c.kind is not ConflictKind.CODE]
    assert left == []
    if not done.conflicts:
        codes = [w.code for w in apply(b, done.changes)]
        assert len(codes) == len(set(codes))
    if take is Take.OURS:
        assert done.conflicts == ()


@given(forks())
def test_taking_ours_everywhere_changes_no_unit_that_ours_changed(fork):
    base, a, b = fork
    done = merged(b, diff(base, a), lambda _: Take.OURS, once_here={w.identity for w in base})
    after = {w.identity: w for w in apply(b, done.changes)}
    before = {w.identity: w for w in base}
    for waypoint in b:
        here = after.get(waypoint.identity)
        if waypoint.identity not in before:
            assert here is not None and not changed_fields(waypoint, here)
            continue
        for field in changed_fields(before[waypoint.identity], waypoint):
            if field != "runways":  # of the runways, each designator is a unit of its own
                assert here is not None and field not in changed_fields(waypoint, here)


@given(forks())
@settings(max_examples=200)
def test_a_patch_lands_on_the_same_waypoints_where_no_identity_is_shared_or_says_that_it_does_not(fork):
    base, a, _ = fork
    elsewhere = [replace(w, identity=f"other-{w.identity}") for w in base]
    done = merged(elsewhere, diff(base, a))
    # A nameless waypoint on a spot with others cannot be told from them; a code it was to free then stays taken.
    kinds = {conflict.kind for conflict in done.conflicts}
    assert kinds <= {ConflictKind.GONE, ConflictKind.CODE}
    assert ConflictKind.GONE in kinds or not kinds
    # What is retired and not found here counts as retired already; only names make it sure, and some have none.
    if not done.conflicts and all(w.name for w in base):
        ours = {w.code: values_of(w) for w in apply(elsewhere, done.changes)}
        assert ours == {w.code: values_of(w) for w in a}


@given(forks())
def test_a_patch_is_read_back_as_it_was_written(fork):
    _, a, b = fork
    patch = Patch("region@1", "region@2", diff(a, b), (Reason(2, "2027-05-14T08:30:00Z", "librarian", None),))
    read, problems = read_patch(json.loads(patch_text(patch)))
    assert problems == ()
    assert read is not None
    assert seen(apply(a, read.difference)) == seen(b)
    assert read.reasons == patch.reasons and (read.base, read.goal) == ("region@1", "region@2")
    typed = {w.identity: w.typed for w in b}
    for old, new in read.difference.changed:
        if {"position", "elevation_m"} & set(changed_fields(old, new)):
            assert new.typed == typed[new.identity]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@given(JSON)
def test_reading_any_json_as_a_patch_never_raises(document):
    patch, problems = read_patch(document)
    assert (patch is None) == bool(problems)


@given(forks(), st.data())
def test_reading_a_patch_with_something_exchanged_never_raises(fork, data):
    _, a, b = fork
    document = json.loads(patch_text(Patch("x@1", "x@2", diff(a, b))))
    place = document
    while isinstance(place, (dict, list)) and place:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        where = data.draw(st.sampled_from(keys))
        if data.draw(st.booleans()) or not isinstance(place[where], (dict, list)) or not place[where]:
            place[where] = data.draw(JSON)
            break
        place = place[where]
    patch, problems = read_patch(document)
    assert (patch is None) == bool(problems)


def test_the_field_of_a_conflict_about_a_whole_waypoint_is_no_field_of_the_model():
    assert not hasattr(Waypoint(code="1", name="", position=Position(0, 0)), WHOLE)


def test_an_empty_difference_is_empty():
    assert SetDiff().is_empty and diff([], []).is_empty
