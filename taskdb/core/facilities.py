"""Radio channels and runways as one line of text, and back: `123.505 launch; 122.480`, `07/25 071deg 850m x 30m grass`.

Printing and reading are inverse for every value. A runway's designator (painted, magnetic) and its true heading are
two things and are never derived from each other here. `one-way` says that a strip is used in one direction only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from taskdb.core.model import Radio, Runway
from taskdb.core.numbers import shortest_decimal
from taskdb.errors import UsageError

RADIO_FORM = "123.505 launch; 122.480"
RUNWAY_FORM = "07/25 071deg 850m x 30m grass"

ONE_WAY = "one-way"
NOTHING_KNOWN = "strip"
"""What stands for a runway of which nothing is known but that it is there."""

_PART = re.compile(r"((?:[^;\\\"]|\\.|\"(?:[^\"\\]|\\.)*\")*)(;|$)", re.DOTALL)
_WORD = re.compile(r"\"((?:[^\"\\]|\\.)*)\"|((?:[^\s\"\\]|\\.)(?:[^\s\\]|\\.)*)", re.DOTALL)
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)
_DESIGNATOR = re.compile(r"\d{1,2}[LCR]?(?:/\d{1,2}[LCR]?)?")
_HEADING = re.compile(r"(\d{1,3}(?:\.\d+)?)deg")
_PLAIN_SURFACE = re.compile(r"[^\W\d_][^\d,;\"\\°×]*")
_LENGTH = re.compile(r"(\d+(?:\.\d+)?)m")


CHANNEL_ENDINGS = frozenset(
    ["00", "05", "10", "15", "25", "30", "35", "40", "50", "55", "60", "65", "75", "80", "85", "90"]
)
"""The last two of a channel's three decimals: 00 25 50 75 are 25 kHz channels, the others 8.33 kHz ones; 20 45 70 95
and the rest do not exist (ICAO Annex 10 Volume V; from memory)."""
AIR_BAND_MHZ = range(118, 137)
# A number with a unit of its own behind it is no channel: 123,505 km.
_CHANNEL_IN_TEXT = re.compile(
    r"(?<![\d.,])(1[1-3]\d),(\d{3})(?![\d.,]*\d)(?!\s*(?:k?m|ft|nmi|NM|mi|kg|l|°|%)(?![^\W\d_]))"
)


def with_channels(text: str) -> str:
    """Return text with the radio channels in it written as everywhere else: `Funk 123,505` is `Funk 123.505`.

    Only what is a channel of the air band and has no unit of its own is touched.
    """
    return _CHANNEL_IN_TEXT.sub(_channel, text)


def _channel(match: re.Match[str]) -> str:
    exists = int(match[1]) in AIR_BAND_MHZ and match[2][1:] in CHANNEL_ENDINGS
    return f"{match[1]}.{match[2]}" if exists else match[0]


def _escape(text: str, letters: str) -> str:
    return "".join("\\" + letter if letter in letters else letter for letter in text)


def _unescape(text: str) -> str:
    return _ESCAPED.sub(r"\1", text) if "\\" in text else text


def _quote(text: str) -> str:
    return '"' + _escape(text, '"\\') + '"'


def _parts(text: str) -> Iterable[str]:
    """Yield the parts between semicolons that are neither escaped nor quoted."""
    if "\\" not in text and '"' not in text:
        yield from text.split(";")
        return
    at = 0
    while at <= len(text):
        match = _PART.match(text, at)
        if match is None or (match[2] == "" and match.end() < len(text)):
            raise UsageError("bad-quotes", f"{text!r} has a quote or backslash without its other half.")
        yield match[1]
        if match[2] == "":
            return
        at = match.end()


def format_radio(radio: Iterable[Radio]) -> str:
    """Return channels as one line, `123.505 launch; 122.480`; empty for none."""
    entries = []
    for entry in radio:
        channel = _escape(entry.channel, '\\"; ')
        purpose = "" if entry.purpose is None else " " + _escape(entry.purpose, '\\";')
        entries.append(channel + purpose)
    return "; ".join(entries)


def parse_radio(text: str) -> tuple[Radio, ...]:
    """Return the channels of `123.505 launch; 122.480`: the first word of each part is the channel. Empty for none.

    The channel stays text as published and is not checked here. Raises UsageError where quoting is broken.
    """
    entries = []
    for part in _parts(text):
        stripped = part.strip()
        if not stripped:
            continue
        match = re.match(r"((?:[^\s\\]|\\.)+)\s*(.*)", stripped, re.DOTALL)
        if match is None:
            raise UsageError("bad-radio", f"{text!r} is not a list of radio channels.", hint=f"Write {RADIO_FORM}.")
        entries.append(Radio(_unescape(match[1]), _unescape(match[2]) or None))
    return tuple(entries)


def _is_plain_surface(text: str) -> bool:
    """Say whether the words of a surface are read back as a surface."""
    words = text.split()
    return (
        _PLAIN_SURFACE.fullmatch(text) is not None
        and text == " ".join(words)
        and words[-1] != ONE_WAY
        and text != NOTHING_KNOWN
        and words[0].lower() not in ("x", "rwy", "m")
    )


def format_runway(runway: Runway) -> str:
    """Return one runway as text: designator, true heading, length x width, surface, `one-way`; what is known of it."""
    words: list[str] = []
    if runway.designator is not None:
        plain = _DESIGNATOR.fullmatch(runway.designator) is not None
        words.append(runway.designator if plain else "rwy " + _quote(runway.designator))
    if runway.heading_true_deg is not None:
        whole, dot, part = shortest_decimal(runway.heading_true_deg).partition(".")
        words.append(f"{whole:0>3}{dot}{part}deg")
    if runway.length_m is not None:
        words.append(f"{shortest_decimal(runway.length_m)}m")
    if runway.width_m is not None:
        words.append(f"x {shortest_decimal(runway.width_m)}m")
    if runway.surface is not None:
        words.append(runway.surface if _is_plain_surface(runway.surface) else _quote(runway.surface))
    if runway.one_way:
        words.append(ONE_WAY)
    return " ".join(words) or NOTHING_KNOWN


def format_runways(runways: Iterable[Runway]) -> str:
    """Return runways as one line, parted by semicolons; empty for none."""
    return "; ".join(format_runway(runway) for runway in runways)


def _metres(text: str, digits: str) -> float:
    metres = float(digits)
    if metres == float("inf"):
        raise _refuse_runway(text, f"a length of {len(digits)} digits does not exist")
    return metres


def _refuse_runway(text: str, why: str) -> UsageError:
    return UsageError("bad-runway", f"{text!r} is not a runway: {why}.", hint=f"Write {RUNWAY_FORM}.")


def _words(text: str) -> list[tuple[str, bool]]:
    """Return the words of a text and whether each was quoted."""
    return [(_unescape(m[1]), True) if m[1] is not None else (_unescape(m[2]), False) for m in _WORD.finditer(text)]


def parse_runway(text: str) -> Runway:
    """Return one runway for `07/25 071deg 850m x 30m grass one-way`, any part of which may be missing.

    Raises UsageError for a heading above 360 or a size without its unit.
    """
    words = _words(text)
    one_way = bool(words) and words[-1] == (ONE_WAY, False)
    if one_way:
        words.pop()
    if words == [(NOTHING_KNOWN, False)]:
        words.pop()
    designator = heading = length = width = None
    at = 0

    def take(form: re.Pattern[str]) -> re.Match[str] | None:
        nonlocal at
        if at < len(words) and not words[at][1] and (match := form.fullmatch(words[at][0])):
            at += 1
            return match
        return None

    if len(words) > 1 and words[0][0] == "rwy" and words[1][1]:
        designator, at = words[1][0], 2
    elif named := take(_DESIGNATOR):
        designator = named[0]
    if turned := take(_HEADING):
        heading = float(turned[1])
        if heading > 360:
            raise _refuse_runway(text, f"a heading of {turned[1]} degrees does not exist")
        heading %= 360.0
    if long := take(_LENGTH):
        length = _metres(text, long[1])
    if take(re.compile("x")):
        wide = take(_LENGTH)
        if wide is None:
            raise _refuse_runway(text, "after x stands the width with its unit, e.g. x 30m")
        width = _metres(text, wide[1])
    rest = " ".join(word for word, _ in words[at:])
    if re.match(r"\d", rest) and not words[at][1]:
        raise _refuse_runway(text, f"{words[at][0]!r} is no designator, heading (071deg) or length (850m)")
    has_surface = at < len(words)
    return Runway(designator, heading, length, width, rest if has_surface else None, one_way)


def parse_runways(text: str) -> tuple[Runway, ...]:
    """Return the runways of a line, parted by semicolons; empty for none. UsageError for what is no runway."""
    return tuple(parse_runway(part) for part in _parts(text) if part.strip())
