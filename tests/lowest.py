"""Print the lowest release of each dependency that pyproject.toml allows, as a constraints file for pip.

    python tests/lowest.py > lowest.txt       (the tools of the tests are left free)

So the list is never written a second time. See "Dependencies" in DEVELOPERS.md.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

PYPROJECT = Path(__file__).resolve().parents[1] / "pyproject.toml"
REQUIREMENT = re.compile(r"([\w.-]+)(?:\[(\w+)\])?>=([\w.]+)(?:,<([\w.]+))?(?:;.*)?")


def requirements(project: dict[str, Any]) -> list[str]:
    """Return what the package asks for with all its extras but that of the tests."""
    extras = project["optional-dependencies"]
    return [*project["dependencies"], *(one for name in sorted(extras) if name != "test" for one in extras[name])]


def lowest(asked: Iterable[str]) -> Iterator[str]:
    """Yield a line for each requirement; ValueError for one without a lower bound."""
    for one in asked:
        match = REQUIREMENT.fullmatch(one)
        if match is None:
            raise ValueError(f"{one!r} has no lower bound that is read here")
        name, extra, version, _ = match.groups()
        yield f"{name}=={version}"
        if extra is not None:  # psycopg's extras are packages of the same version
            yield f"{name}-{extra}=={version}"


def main() -> int:
    project = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]
    print("\n".join(lowest(requirements(project))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
