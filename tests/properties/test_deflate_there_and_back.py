"""Text written small is the same text again: read by zlib and by zipfile, which know nothing of how it was written."""

from __future__ import annotations

import io
import random
import zipfile
import zlib

from hypothesis import example, given, strategies as st

from taskdb.files.deflate import deflate
from taskdb.files.pack import PackedFile
from taskdb.files.small_zip import small_zip
from taskdb.services.handing_out.smaller import LEAST_BYTES, PLAIN_BYTES, made_small

WORDS = st.lists(st.sampled_from([b"<name>", b"</name>\n", b"Ormsau", b",", b'"', b"48.872", b"x" * 300, b"\xff\x00"]))


@given(st.binary(max_size=400) | WORDS.map(b"".join), st.integers(1, 60))
@example(b"", 1)
@example(b"a", 1)
@example(b"<a>" * 200_000, 1)
@example(bytes(range(256)) * 300, 1)
@example(b"word<" + b"y" * 32_764 + b"word<", 1)
@example(b"word<" + b",y" * 16_390 + b"word<", 1)
def test_what_was_written_small_is_read_by_others_as_it_was(part: bytes, times: int) -> None:
    content = part * times
    assert zlib.decompress(deflate(content), -15) == content


def test_codes_never_grow_too_long_however_rare_a_sign_is() -> None:
    # Frequencies as Fibonacci's numbers make the deepest tree that there is (Huffman, 1952).
    counts, content = [1, 1], b""
    while len(counts) < 24:
        counts.append(counts[-1] + counts[-2])
    content = b"".join(bytes([65 + n]) * count for n, count in enumerate(counts))
    assert zlib.decompress(deflate(content), -15) == content


def test_text_that_repeats_its_words_becomes_much_smaller() -> None:
    chance = random.Random(5)
    row = '<wpt lat="48.{:07d}" lon="11.{:07d}"><name>Place {}</name><sym>field</sym></wpt>\n'
    rows = (row.format(*(chance.randrange(10**7) for _ in range(2)), chance.randrange(50)) for _ in range(2000))
    content = "".join(rows).encode()
    assert len(deflate(content)) < 0.25 * len(content) and len(deflate(content)) < 2 * len(zlib.compress(content, 9))


@given(st.text(min_size=1, max_size=20).filter(lambda t: "\x00" not in t and "/" not in t), st.binary(max_size=300))
def test_a_zip_of_one_file_is_read_by_zipfile(name: str, content: bytes) -> None:
    packed = small_zip(name, content)
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert archive.testzip() is None and archive.namelist() == [name]
        assert archive.read(name) == content and archive.infolist()[0].date_time == (1980, 1, 1, 0, 0, 0)
    assert packed == small_zip(name, content)


def test_only_large_files_of_large_publications_are_zipped() -> None:
    small = [PackedFile("files/a.gpx", b"x" * LEAST_BYTES, "gpx")]
    assert made_small(small) == small
    many = [
        PackedFile("files/a.gpx", b"x" * PLAIN_BYTES, "gpx"),
        PackedFile("files/a.kml", b"<kml/>" * LEAST_BYTES, "kml"),
        PackedFile("files/a.igc", b"x" * (LEAST_BYTES - 1), "igc"),
    ]
    gpx, kml, igc = made_small(many)
    assert (gpx.path, kml.path, igc) == ("files/a.gpx.zip", "files/a.kmz", many[2])
    with zipfile.ZipFile(io.BytesIO(kml.content)) as archive:
        assert archive.read("doc.kml") == many[1].content
