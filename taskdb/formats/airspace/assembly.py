"""Raw volumes of any format as canonical ones: properties to values, rings looked through, every problem told.

Nothing is left out in silence: a volume that cannot be read is a problem with its name and line, what was taken for
granted is a note, what was mended is said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from taskdb.core.airspace.exchanged import lie_exchanged
from taskdb.core.airspace.heights import limits_problem, parse_limit
from taskdb.core.airspace.rings import Ground, mend
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Limit, Ring, Volume
from taskdb.core.model import E7, Position, RowProblem
from taskdb.core.names import NAME_LIMIT, clean_text
from taskdb.errors import InputError, UsageError
from taskdb.formats.airspace.kinds import kind_of
from taskdb.formats.airspace.reading import AirspaceOptions, AirspaceReading, RawVolume, chosen_properties
from taskdb.formats.limits import require_rows
from taskdb.formats.markup.antimeridian import cut_polygon

_LONGEST_TEXT = 1_000
_MOST_NAMED = 5
_Tell = Callable[[str, str | None, str, str], None]


@dataclass(slots=True)
class _Reading:
    """What is found while the volumes of one file are looked through; `granted` names volumes by what was taken."""

    properties: dict[str, str]
    options: AirspaceOptions
    volumes: list[Volume] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)
    granted: dict[str, list[str]] = field(default_factory=dict)
    names: Counter[str] = field(default_factory=Counter)

    def grant(self, what: str, name: str) -> None:
        self.granted.setdefault(what, []).append(name)


def assemble(
    raws: Sequence[RawVolume], options: AirspaceOptions, *, format: str, encoding: str, notes: Sequence[str] = ()
) -> AirspaceReading:
    """Return the volumes of a file, or what is wrong with each of them. InputError where there are none at all."""
    if not raws:
        told = f", only {notes[0]}" if notes else ""
        raise InputError(
            "no-volumes",
            f"The file holds no areas{told}.",
            hint="Give a file with polygons: a point or a line encloses no air.",
        )
    reading = _Reading(chosen_properties(raws, options), options)
    turned = _turned(reading, raws)
    for number, raw in enumerate(turned, 1):
        _take(reading, raw, number)
        require_rows(number, reading.problems)
    return AirspaceReading(
        format,
        encoding,
        tuple(sorted(reading.volumes, key=lambda volume: volume.name)),
        tuple(reading.problems),
        tuple(reading.mended),
        (*_granted(reading), *dict.fromkeys(note for raw in raws for note in raw.notes), *notes),
        reading.properties,
    )


def _turned(reading: _Reading, raws: Sequence[RawVolume]) -> Sequence[RawVolume]:
    """Return the volumes, each turned round (or a problem) where all of them lie with exchanged axes."""
    region = reading.options.region
    places = [ring[0] for raw in raws for rings in raw.polygons for ring in rings[:1] if ring]
    if not region or not lie_exchanged(places, region):
        return raws
    if reading.options.repair:
        reading.mended.append("longitude and latitude exchanged in all areas: turned round they lie at the waypoints")
        return [
            replace(raw, polygons=[[[(y, x) for x, y in ring] for ring in rings] for rings in raw.polygons])
            for raw in raws
        ]
    why = "it lies far from all waypoints, and among them where longitude and latitude are exchanged"
    return [
        raw
        if raw.problem is not None
        else replace(raw, problem=RowProblem(raw.line, "ground", None, "exchanged-axes", why))
        for raw in raws
    ]


def _take(reading: _Reading, raw: RawVolume, number: int) -> None:
    """Take one volume, or all that is wrong with it."""
    before = len(reading.problems)
    name = _name(reading, raw, number)
    shown = name or f"area {number}"

    def tell(what: str, value: str | None, code: str, message: str) -> None:
        short = None if value is None else value[:200]
        reading.problems.append(RowProblem(raw.line, what, short, code, f"{shown}: {message}"))

    if raw.problem is not None:
        tell(raw.problem.field or "ground", raw.problem.value, raw.problem.code, raw.problem.message)
        return
    texts = {what: _text(raw, reading.properties.get(what)) for what in ("floor", "ceiling", "times", "frequency")}
    floor = _limit(reading, texts["floor"], GROUND, "floor", shown, tell)
    ceiling = _limit(reading, texts["ceiling"], UNLIMITED, "ceiling", shown, tell)
    why = limits_problem(floor, ceiling) if floor is not None and ceiling is not None else None
    if why is not None:
        tell("floor", texts["floor"], "upside-down", why)
    for what in ("times", "frequency"):
        if len(texts[what] or "") > _LONGEST_TEXT:
            tell(what, texts[what], "too-long", f"its {what} have more than {_LONGEST_TEXT:,} letters")
    ground = mend(raw.polygons, repair=reading.options.repair, short_way=raw.short_way)
    for problem in ground.problems:
        tell("ground", None, problem.code, problem.message)
    if len(reading.problems) > before or floor is None or ceiling is None:
        return
    reading.mended += [f"{shown}: {told}" for told in ground.mended]
    kind = _kind(reading, raw, shown)
    reading.volumes.append(
        Volume.of(
            name, kind, floor, ceiling, cut(ground), times=texts["times"] or None, frequency=texts["frequency"] or None
        )
    )


def _text(raw: RawVolume, property_name: str | None) -> str | None:
    return None if property_name is None else clean_text(raw.texts.get(property_name, ""))


def _name(reading: _Reading, raw: RawVolume, number: int) -> str:
    """Return a volume's name; where it has none, or one that stands already, that is a problem."""
    name = _text(raw, reading.properties.get("name")) or ""

    def tell(code: str, message: str, suggestion: str | None = None) -> None:
        reading.problems.append(RowProblem(raw.line, "name", name[:200] or None, code, message, suggestion))

    if not name:
        there = ", ".join(list(raw.texts)[:8])
        told = f" (it has {there}: --property name=NAME)" if there else ""
        tell("no-name", f"area {number} has no name{told}")
    elif len(name) > NAME_LIMIT:
        tell("too-long", f"area {number}: its name has more than {NAME_LIMIT} letters")
    reading.names[name] += 1
    count = reading.names[name]
    if name and count > 1:
        other = f"{name[: NAME_LIMIT - 8]} ({count})"
        if reading.options.repair and reading.names[other] == 0:
            reading.names[other] += 1
            reading.mended.append(f"{name}: the name stands {count} times, this one became {other!r}")
            return other
        tell("repeated-name", f"{name}: the name stands more than once, and names tell volumes apart", other)
    return name


def _limit(reading: _Reading, text: str | None, missing: Limit, what: str, shown: str, tell: _Tell) -> Limit | None:
    if not text:
        reading.grant(f"no {what}: {missing.text} taken", shown)
        return missing
    try:
        return parse_limit(text)
    except UsageError as refused:
        tell(what, text, refused.code, f"its {what}: {refused.message} {refused.hint or ''}".strip())
        return None


def _kind(reading: _Reading, raw: RawVolume, shown: str) -> Kind:
    name = reading.properties.get("kind")
    text = _text(raw, name)
    if not text or name is None:
        reading.grant("no kind: other taken", shown)
        return Kind.OTHER
    kind = kind_of(text, name)
    if kind is None:
        reading.grant(f"the kind {text[:40]!r} is not known: other taken", shown)
    return kind or Kind.OTHER


def _granted(reading: _Reading) -> list[str]:
    """Return sentences on what was taken for granted, with the first names."""
    told = []
    for what, names in reading.granted.items():
        more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
        told.append(f"{what} ({', '.join(names[:_MOST_NAMED])}{more})")
    return told


def cut(ground: Ground) -> list[list[Ring]]:
    """Return sound polygons cut where they cross the antimeridian (RFC 7946, 3.1.9), positions in 1e-7 degree."""
    polygons: list[list[Ring]] = []
    for polygon in ground.polygons:
        if all(abs(x) <= 180 * E7 for ring in polygon for x, _ in ring):
            polygons.append(list(polygon))
            continue
        exterior, *holes = [[_position(vertex) for vertex in _open_at_pole(ring)] for ring in polygon]
        for part in cut_polygon(exterior, holes):
            polygons.append([tuple((round(x * E7), round(y * E7)) for x, y in ring) for ring in part])
    return polygons


def _position(vertex: tuple[int, int]) -> Position:
    return Position.from_e7(vertex[1], (vertex[0] + 180 * E7) % (360 * E7) - 180 * E7)


def _open_at_pole(ring: Ring) -> Ring:
    """Return a ring round a pole without its way along the edge of the map: whoever cuts it closes it there."""
    is_round = len(ring) > 4 and abs(ring[-2][0] - ring[-3][0]) == 360 * E7 and abs(ring[-2][1]) == 90 * E7
    return ring[:-3] if is_round else ring
