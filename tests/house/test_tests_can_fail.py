"""Tests that cannot fail are found by their look: that assert nothing, a constant, or a thing against itself."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
FAILING = {"raises", "warns", "fail", "assertValid", "assert_called"}
"""Calls that fail by themselves; and `subprocess.run(…, check=True)`."""


def called(tree: ast.AST) -> set[str]:
    """Return the names of all functions and methods that are called in a piece of code."""
    functions = (node.func for node in ast.walk(tree) if isinstance(node, ast.Call))
    return {one.id if isinstance(one, ast.Name) else getattr(one, "attr", "") for one in functions}


def fails_by_itself(tree: ast.AST) -> bool:
    if any(isinstance(node, ast.Assert | ast.Raise) for node in ast.walk(tree)) or called(tree) & FAILING:
        return True
    checks = (word.value for node in ast.walk(tree) if isinstance(node, ast.Call) for word in node.keywords)
    return any(isinstance(one, ast.Constant) and one.value is True for one in checks)


def hollow_tests(trees: dict[str, ast.Module]) -> Iterator[str]:
    """Yield the tests that neither assert nor call, over however many functions of the tests, what asserts."""
    functions: dict[str, list[ast.FunctionDef]] = defaultdict(list)
    for tree in trees.values():
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                functions[node.name].append(node)
    asserting = {name for name, made in functions.items() if any(map(fails_by_itself, made))}
    while more := {n for n, made in functions.items() if any(called(one) & asserting for one in made)} - asserting:
        asserting |= more
    for place, tree in trees.items():
        for node in ast.walk(tree):
            is_test = isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
            if is_test and not fails_by_itself(node) and not called(node) & asserting:
                yield f"{place}: {node.name} asserts nothing"


def hollow_asserts(trees: dict[str, ast.Module]) -> Iterator[str]:
    """Yield asserts of what is always so: a constant, a tuple, and comparisons of a thing with itself."""
    for place, tree in trees.items():
        for node in (one for one in ast.walk(tree) if isinstance(one, ast.Assert)):
            told = f"{place}:{node.lineno}: {ast.unparse(node.test)[:80]}"
            always = ast.Constant | ast.Tuple | ast.JoinedStr | ast.Lambda | ast.GeneratorExp
            if isinstance(node.test, always) or (isinstance(node.test, ast.Name) and node.test.id.isupper()):
                yield f"{told} is always so"
            for one in (inner for inner in ast.walk(node.test) if isinstance(inner, ast.Compare)):
                sides = [ast.unparse(side) for side in (one.left, *one.comparators)]
                if len(set(sides)) < len(sides) and isinstance(one.ops[0], ast.Eq | ast.LtE | ast.GtE | ast.Is):
                    yield f"{told} compares a thing with itself"


def test_no_test_is_hollow() -> None:
    trees = {str(path.relative_to(TESTS)): ast.parse(path.read_text("utf-8")) for path in TESTS.rglob("*.py")}
    assert len(trees) > 200
    assert [*hollow_tests(trees), *hollow_asserts(trees)] == []


@pytest.mark.parametrize(
    "code",
    [
        "def test_a():\n    read()",
        "def test_a():\n    assert FORMATS",
        "def test_a():\n    assert there(x) == there(x)",
        "def test_a():\n    assert (a == b, 'told')",
        "def helper():\n    pass\ndef test_a():\n    helper()",
    ],
)
def test_a_hollow_one_would_be_seen(code: str) -> None:
    trees = {"x": ast.parse(code)}
    assert [*hollow_tests(trees), *hollow_asserts(trees)] != []
