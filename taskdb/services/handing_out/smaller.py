"""Files of a large publication made small enough for a telephone; those of a small one stay as they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from taskdb.files.held import bytes_of
from taskdb.files.pack import PackedFile
from taskdb.files.small_zip import small_zip

PLAIN_BYTES = 1_500_000
"""So much in files to take is published as it is."""
LEAST_BYTES = 8_000
"""A smaller file is not worth a zip."""


def made_small(files: Sequence[PackedFile]) -> list[PackedFile]:
    """Return files to take, the large ones of many zipped one by one, KML as KMZ; they are the same to the byte."""
    if sum(len(file.content) for file in files) <= PLAIN_BYTES:
        return list(files)
    return [_zipped(file) if len(file.content) >= LEAST_BYTES else file for file in files]


def _zipped(file: PackedFile) -> PackedFile:
    if file.format == "kml":
        # OGC KML 2.2, 6: the first .kml file of a KMZ is what is shown, by convention doc.kml.
        path = file.path.removesuffix(".kml") + ".kmz"
        return replace(file, path=path, format="kmz", content=small_zip("doc.kml", bytes_of(file.content)))
    return replace(
        file, path=f"{file.path}.zip", content=small_zip(file.path.rpartition("/")[2], bytes_of(file.content))
    )
