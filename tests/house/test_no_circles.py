"""No two modules import each other by any way, nor two folders; what stands for annotations alone counts too."""

from __future__ import annotations

import ast
from graphlib import TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[2]


def arrows() -> dict[str, set[str]]:
    """Return for each module of the package the modules that it imports."""
    paths = {}
    for path in (ROOT / "taskdb").rglob("*.py"):
        paths[".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")] = path
    found: dict[str, set[str]] = {}
    for name, path in paths.items():
        found[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                wanted = {f"{node.module}.{one.name}" for one in node.names} | {node.module}
                inner = {one for one in wanted if one in paths}
                # `from package import module` means the module; `from module import name` the module that holds it.
                found[name] |= {one for one in inner if not any(other.startswith(f"{one}.") for other in inner)}
        found[name].discard(name)
    return found


def room_of(module: str, modules: set[str]) -> str:
    """Return the room of a module: its folder; a single file at the top of a layer is a room by itself."""
    folder = module if any(one.startswith(f"{module}.") for one in modules) else module.rpartition(".")[0]
    return module if folder.count(".") <= 1 else folder


def test_no_module_is_imported_by_what_it_imports() -> None:
    found = arrows()
    assert sum(map(len, found.values())) > 2000
    TopologicalSorter(found).prepare()


def test_no_folder_is_imported_by_what_it_imports() -> None:
    found = arrows()
    rooms: dict[str, set[str]] = {}
    for module, others in found.items():
        room = room_of(module, set(found))
        rooms.setdefault(room, set()).update(room_of(other, set(found)) for other in others)
    TopologicalSorter({room: others - {room} for room, others in rooms.items()}).prepare()
