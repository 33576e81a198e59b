"""Publications to look at in a browser: sets written by the service itself, and names that hurt."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from taskdb.core.model import Feature, Landable
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.publishing import Published, PublishRequest, publish
from taskdb.services.sets.importing import ImportRequest, import_set
from tests import building

DEMO = Path(__file__).parents[2] / "demo"
OWN = "document.documentElement.setAttribute('data-owned','1')"
HOSTILE = (
    f"<script>{OWN}</script>",
    f"</script><script>{OWN}</script>",
    f"</title><script>{OWN}</script>",
    f'"><img src=x onerror="{OWN}">',
    f"'><svg/onload={OWN}>",
    f"<a href='javascript:{OWN}' autofocus onfocus={OWN}>x</a>",
    f"javascript:{OWN}",
    f"<iframe srcdoc='<script>parent.{OWN}</script>'></iframe>",
    "`${" + OWN + "}`",
    "{{ 7*7 }}{% raw %}",
    "<!--",
    "</style><b>",
    "\u202egnal si eman siht\u202c",
    "مطار الوادي الكبير",
    "W" * 200,
    "e\u0301toile & <b>Étoile</b>",
    "\u2028line\u2029ends",
    "\\u003c\\",
    "Straße am Großen Weiher",
    "STRASSE",
    "İstanbul ılgaz",
    "ΟΔΟΣ Σίσυφος",
    "ﬁne ǅungla ½ ² Ⅷ",
    "Ångström Øre Æsir Łódź Þing",
    "क्षितिज ทุ่งนา 東京 ٣",
    "10 10a a10 010",
)
HEADER = (
    "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "landable", "feature", "country", "radio",
    "runways", "description", "source", "inspected_on",
)  # fmt: skip


def desk_with(folder: Path, rows: Sequence[Sequence[Any]] | Path, name: str = "region") -> Desk:
    """Return a desk at a new store with one set."""
    desk = building.desk(str(folder / "store.db"))
    path = rows if isinstance(rows, Path) else folder / "rows.csv"
    if not isinstance(rows, Path):
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([HEADER, *rows])
    import_set(desk, ImportRequest(str(path), name), Write("test", confirmed=True))
    return desk


def hostile_rows() -> list[list[str]]:
    """Return waypoints that bear each hostile text in every field that takes one."""
    landables, features = [*Landable, ""], [*Feature, ""]
    rows = []
    for n, text in enumerate(HOSTILE):
        code = "".join(text.split())[:30].replace(":", ".").replace(",", ".").replace("=", ".").replace("@", ".")
        code = f"{n:02d}{code}" if n % 3 else f"X{n}"
        runway = f'09/27 09{n % 10}deg {600 + 20 * n}m x 30m "{text[:40].replace(chr(92), "").replace(chr(34), "")}"'
        rows.append(
            [
                code, text, f"{48 + n / 50:.7f}", f"{11 + n / 40:.7f}", str(300 + n), landables[n % len(landables)],
                features[n % len(features)], "DE", "123.505 launch", runway if n % 2 else "", text, text, "2027-04-01",
            ]
        )  # fmt: skip
    return rows


def published(desk: Desk, to: Path, reference: str = "region", **given: Any) -> Published:
    return publish(desk, PublishRequest(to=str(to), set_reference=reference, **given))
