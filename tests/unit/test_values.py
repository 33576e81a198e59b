"""The late dataclass is held against the standard library's, feature by feature, and all of the package uses it."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import re
from dataclasses import FrozenInstanceError, field, fields, replace
from pathlib import Path

import pytest

import taskdb
from taskdb import values
from taskdb.core.model import AirspacePin, Position

KINDS = [
    {},
    {"frozen": True},
    {"slots": True},
    {"frozen": True, "slots": True},
    {"frozen": True, "slots": True, "eq": False},
    {"frozen": True, "slots": True, "order": True},
]


def pair(how: dict[str, bool]) -> tuple[type, type]:
    """Return one class twice: as the standard library makes it, and late."""

    def body() -> type:
        class Leg:
            """A leg."""

            start: str
            length_m: float = 1.5
            tags: list[str] = field(default_factory=list)
            hidden: int = field(default=0, repr=False, compare=False)
            number: int = field(kw_only=True, default=7)

            def __post_init__(self) -> None:
                if not self.start:
                    raise ValueError("no start")

        return Leg

    return dataclasses.dataclass(**how)(body()), values.dataclass(**how)(body())


def told(work) -> object:
    """Return what a piece of work gives, or the kind and words of what it raises."""
    try:
        return work()
    except Exception as error:
        return type(error).__name__, str(error)


@pytest.mark.parametrize("how", KINDS, ids=str)
def test_it_does_what_the_standard_one_does(how):
    theirs, ours = pair(how)
    outcomes = []
    for made in (theirs, ours):
        one, other = made("A", 2.0, number=3), made("A", 2.0, hidden=9, number=3)
        bare = copy.copy(one)
        outcomes.append(
            [
                repr(one),
                one == other,
                one == bare,
                one != made("B"),
                one == "A",
                told(lambda one=one: hash(one) is not None),
                told(lambda one=one, other=other: hash(one) == hash(other)),
                told(lambda one=one: setattr(one, "start", "B")),
                told(lambda one=one: delattr(one, "tags")),
                told(lambda one=one, made=made: one < made("B")),
                told(lambda made=made: made()),
                told(lambda made=made: made("A", nothing=1)),
                told(lambda made=made: made("")),
                repr(replace(made("A"), length_m=4)),
                [(f.name, f.kw_only) for f in fields(made)],
                made.__match_args__,
                made.__doc__,
                hasattr(one, "__dict__"),
                made.__hash__ is None,
                dataclasses.asdict(bare),
                made("A").tags is made("A").tags,
            ]
        )
    assert outcomes[0] == outcomes[1]


def test_a_method_is_written_once_and_is_then_the_standard_ones():
    _, late = pair({"frozen": True, "slots": True})
    before, one, other = late.__eq__, late("A"), late("A")
    assert one == other
    written = late.__eq__
    assert written is not before
    assert one == other
    assert late.__eq__ is written
    assert written.__qualname__.endswith("Leg.__eq__")


def test_methods_of_a_class_itself_stay():
    @values.dataclass(frozen=True)
    class Code:
        text: str

        def __eq__(self, other: object) -> bool:
            return isinstance(other, Code) and self.text.lower() == other.text.lower()

        def __hash__(self) -> int:
            return hash(self.text.lower())

        def __repr__(self) -> str:
            return self.text

    assert {Code("a"), Code("A")} == {Code("a")}
    assert repr(Code("A")) == "A"


def test_values_are_copied_and_pickled():
    place = Position.at(47.5, 9.25)
    for made in (copy.copy(place), copy.deepcopy(place), pickle.loads(pickle.dumps(place))):
        assert made == place
        assert made is not place
    with pytest.raises(FrozenInstanceError, match="cannot assign to field 'latitude_deg'"):
        place.latitude_deg = 1  # type: ignore[misc]
    assert sorted([AirspacePin("B", 1), AirspacePin("A", 2)])[0].name == "A"


def test_a_dataclass_as_a_base_is_refused():
    with pytest.raises(AssertionError):
        values.dataclass(type("Below", (Position,), {}))


def test_no_module_makes_its_methods_at_import():
    """Small commands are nothing but imports: one module that forgets costs a third of a millisecond a class."""
    package = Path(taskdb.__file__).parent
    forgot = [
        str(path.relative_to(package))
        for path in sorted(package.rglob("*.py"))
        if path.name != "values.py"
        and re.search(r"from dataclasses import .*\bdataclass\b|dataclasses\.dataclass", path.read_text("utf-8"))
    ]
    assert forgot == []
