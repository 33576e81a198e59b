"""Every function, class and constant of a module of taskdb is used in taskdb: what only tests call is dead.

vulture (pyproject.toml, tests/run.sh) knows names; here a name counts for the module that it is imported from.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
ELSEWHERE = {
    "taskdb.cli.main.main": "for who runs a command line within a process of his own, as the tests do",
    "taskdb.cli.frame.interrupts.restore_interrupts": "called where the module was loaded: cli/main.py",
}


def modules() -> dict[str, ast.Module]:
    """Return the package's modules, by their dotted names."""
    found = {}
    for path in (ROOT / "taskdb").rglob("*.py"):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


def names_made(statement: ast.stmt) -> list[str]:
    """Return what a statement of a module defines, but for what a decorator hands on to somebody."""
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        handed = [ast.unparse(one) for one in statement.decorator_list]
        return [] if any(one.startswith(("command(", "event.")) for one in handed) else [statement.name]
    targets = statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
    return [target.id for target in targets if isinstance(target, ast.Name)]


def used(name: str, tree: ast.Module, known: set[str]) -> Iterator[str]:
    """Yield the dotted names that a module uses, its own too where another statement of it does."""
    modules_by_alias = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for one in node.names:
                whole = f"{node.module}.{one.name}"
                if whole in known:
                    modules_by_alias[one.asname or one.name] = whole
                yield whole
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield f"text {node.value.rpartition(':')[2]}"  # also `module:function`, as formats/known.py names them
    for statement in tree.body:
        own = set(names_made(statement))
        for node in ast.walk(statement):
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id not in own:
                yield f"{name}.{node.id}"
            elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                yield f"{modules_by_alias.get(node.value.id)}.{node.attr}"


def test_everything_that_a_module_offers_is_used_in_the_package() -> None:
    trees = modules()
    called = {one for name, tree in trees.items() for one in used(name, tree, set(trees))}
    made = [(name, one) for name, tree in trees.items() for line in tree.body for one in names_made(line)]
    assert len(made) > 2000
    dead = {f"{name}.{one}" for name, one in made if not called & {f"{name}.{one}", f"text {one}"}}
    dead = {one for one in dead if not one.rpartition(".")[2].startswith("__")}
    assert sorted(dead - ELSEWHERE.keys()) == []
    assert sorted(ELSEWHERE.keys() - dead) == [], "an exception for what is used or no more"
