"""What pyproject.toml asks for: bounds at both ends, and a list of the lower ones that is made from them."""

from __future__ import annotations

import tomllib
from importlib.metadata import version

import pytest
from packaging.version import Version

from tests.lowest import PYPROJECT, REQUIREMENT, lowest, requirements

PROJECT = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]
BY_DATE = {"airportsdata", "tzdata"}
"""Data, numbered by the day; a newer one is no other interface."""


@pytest.mark.parametrize("asked", requirements(PROJECT))
def test_a_dependency_has_a_bound_at_each_end_and_what_is_installed_lies_between(asked: str) -> None:
    match = REQUIREMENT.fullmatch(asked)
    assert match is not None
    name, _, least, below = match.groups()
    assert (below is None) == (name in BY_DATE)
    if "sys_platform" not in asked:
        assert Version(version(name)) >= Version(least)
        assert below is None or Version(version(name)) < Version(below)


def test_the_lower_bounds_come_out_as_constraints() -> None:
    asked = ["click>=8.2.1,<9", "psycopg[binary]>=3.1.4,<4", "tzdata>=2024.1; sys_platform == 'win32'"]
    assert list(lowest(asked)) == [
        "click==8.2.1", "psycopg==3.1.4", "psycopg-binary==3.1.4", "tzdata==2024.1",
    ]  # fmt: skip
    with pytest.raises(ValueError, match="no lower bound"):
        list(lowest(["click<9"]))
    assert len(list(lowest(requirements(PROJECT)))) > 12
