"""The map library Leaflet, from the optional package that carries its files; published pages take it as it is.

Nothing of it lies in taskdb, and nothing is fetched: without the package maps are pictures.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, files
from importlib.util import find_spec
from pathlib import Path

PACKAGE = "django-js-lib-leaflet"
_MODULE = "js_lib_leaflet"


def load_leaflet() -> dict[str, bytes] | None:
    """Return Leaflet's script, style and licence by the names they are published under; None without the package."""
    found = find_spec(_MODULE)
    if found is None or found.origin is None:
        return None
    folder = Path(found.origin).parent / "static" / _MODULE
    held = {name: (folder / name).read_bytes() for name in ("leaflet.js", "leaflet.css")}
    return {**held, "leaflet-LICENSE.txt": _licence()}


def _licence() -> bytes:
    try:
        listed = [path for path in files(PACKAGE) or () if path.name == "LICENSE"]
    except PackageNotFoundError:
        listed = []
    return Path(str(listed[0].locate())).read_bytes() if listed else b"Leaflet: BSD 2-Clause\n"
