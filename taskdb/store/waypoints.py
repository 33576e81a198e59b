"""Finding waypoints: by the stages of a reference, by words and nearness, and what a mistyped name may have meant.

SQL narrows by indexed folded keys, words and a box; the same value objects then decide in Python, so that both
engines answer alike. User text is only ever compared by equality and range, never by LIKE.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from enum import StrEnum

from sqlalchemy import ColumnElement, Connection, Select, and_, func, or_, select

from taskdb.core.filters.waypoints import WaypointFilter
from taskdb.core.model import E7, Position, Waypoint
from taskdb.core.names import fold, search_keys
from taskdb.store.bulk import IN_LIST, batches
from taskdb.store.rows import waypoint_of
from taskdb.store.schema import waypoint_set, waypoint_state, waypoint_word
from taskdb.store.sets import READ, count_at, standing

_RARE = 2_000  # a word with fewer states than this drives a search; no need to count further
_LONGEST_CODE_OF_ZEROS = 12
_FUZZY_LIMIT = 5_000
_METRES_PER_DEGREE = 110_574.0  # the shortest degree of latitude on WGS84, at the equator
_LAST = chr(0x10FFFF)

_state = waypoint_state.c
_word = waypoint_word.c


class Stage(StrEnum):
    """How a reference may mean a waypoint, in the order in which it is tried."""

    CODE = "code"
    FOLDED_CODE = "folded-code"
    CODE_WITHOUT_ZEROS = "code-without-zeros"
    NAME = "name"
    FOLDED_NAME = "folded-name"
    BEGINNING = "beginning"


def candidates(c: Connection, set_id: int, number: int, stage: Stage, text: str) -> list[Waypoint]:
    """Return the waypoints of a set at a revision that `text` means at this stage, in code-point order of code."""
    folded = fold(text)
    if stage is Stage.CODE:
        return _where(c, set_id, number, _state.code == text)
    if not folded:
        return _where(c, set_id, number, _state.name == text) if stage is Stage.NAME else []
    if stage is Stage.FOLDED_CODE:
        return _by_column(c, set_id, number, _state.code_folded == folded)
    if stage is Stage.CODE_WITHOUT_ZEROS:
        return _by_column(c, set_id, number, _state.code_folded.in_(_with_zeros(folded)))
    if stage is Stage.NAME:
        return _named(c, set_id, number, folded, lambda waypoint: waypoint.name == text)
    found: dict[str | None, Waypoint] = {}
    for key in search_keys(text):
        hits = _called(c, set_id, number, key) if stage is Stage.FOLDED_NAME else _beginning(c, set_id, number, key)
        found.update((w.identity, w) for w in hits)
    return sorted(found.values(), key=_code)


def _with_zeros(folded: str) -> list[str]:
    bare = folded.lstrip("0") or "0"
    return [bare.rjust(width, "0") for width in range(len(bare), max(_LONGEST_CODE_OF_ZEROS, len(folded)) + 1)]


def _called(c: Connection, set_id: int, number: int, key: str) -> list[Waypoint]:
    return _named(c, set_id, number, key, lambda waypoint: key in search_keys(waypoint.name))


def _beginning(c: Connection, set_id: int, number: int, key: str) -> list[Waypoint]:
    by_code = _by_column(c, set_id, number, _starts(_state.code_folded, key))
    by_name = _named(
        c, set_id, number, key, lambda waypoint: any(whole.startswith(key) for whole in search_keys(waypoint.name))
    )
    return [*by_code, *by_name]


def _named(c: Connection, set_id: int, number: int, folded: str, decides: Callable[[Waypoint], bool]) -> list[Waypoint]:
    """Return the waypoints that a test accepts among those that have, for each word of `folded`, one that begins so."""
    return sorted(filter(decides, _with_words(c, set_id, number, folded.split())), key=_code)


def find_waypoints(c: Connection, set_id: int, number: int, wanted: WaypointFilter) -> list[Waypoint]:
    """Return the waypoints of a set at a revision that a search wants, in code-point order of code."""
    if wanted.words:
        found = _with_words(c, set_id, number, wanted.words)
    elif wanted.near is not None and wanted.within_m is not None:
        box = box_of(_state.latitude_e7, _state.longitude_e7, wanted.near, wanted.within_m)
        found = _by_ids(c, set_id, number, c.scalars(select(_state.id).where(box)).all())
    else:
        kinds = ((_state.landable, wanted.landable), (_state.feature, wanted.feature))
        plain = [column == value.value for column, value in kinds if value is not None]
        found = iter(_where(c, set_id, number, and_(*plain) if plain else None))
    return sorted(filter(wanted.accepts, found), key=_code)


def names_near(c: Connection, set_id: int, number: int, text: str, limit: int = 3) -> list[str]:
    """Return the waypoints most like a mistyped reference, best first, as `CODE (NAME)`; few or none."""
    from rapidfuzz import fuzz, process

    folded = fold(text)
    pool = {f"{w.code} ({w.name})": (fold(w.code), fold(w.name)) for w in _perhaps(c, set_id, number, folded)}
    by_name = {label: name for label, (_, name) in pool.items()}
    by_code = {label: code for label, (code, _) in pool.items()}
    hits = process.extract(folded, by_name, scorer=fuzz.WRatio, limit=limit, score_cutoff=70)
    hits += process.extract(folded, by_code, scorer=fuzz.ratio, limit=limit, score_cutoff=70)
    best = sorted(hits, key=lambda hit: (-hit[1], hit[2]))
    return list(dict.fromkeys(label for _, _, label in best))[:limit]


def _perhaps(c: Connection, set_id: int, number: int, folded: str) -> Iterable[Waypoint]:
    """Return the waypoints worth comparing with a mistyped text: all of a small set, else those that begin alike."""
    if count_at(c, set_id, number) <= _FUZZY_LIMIT:
        return _where(c, set_id, number, None)
    found: dict[str | None, Waypoint] = {}
    for word in folded.split():
        for table in _beginning_with(word[:3]):
            ids = c.scalars(table.limit(_FUZZY_LIMIT)).all()
            found.update((w.identity, w) for w in _by_ids(c, set_id, number, ids))
    return found.values()


# -- how it is narrowed ------------------------------------------------------------------------------------------


def _code(waypoint: Waypoint) -> str:
    return waypoint.code


def _starts(column: ColumnElement[str], beginning: str) -> ColumnElement[bool]:
    return and_(column >= beginning, column < beginning + _LAST)


def _where(c: Connection, set_id: int, number: int, condition: ColumnElement[bool] | None) -> list[Waypoint]:
    query = select(*READ).where(standing(c, set_id, number)).order_by(_state.code)
    if condition is not None:
        query = query.where(condition)
    return [waypoint_of(row) for row in c.execute(query)]


def _by_column(c: Connection, set_id: int, number: int, condition: ColumnElement[bool]) -> list[Waypoint]:
    ids = c.scalars(select(_state.id).where(condition)).all()
    return sorted(_by_ids(c, set_id, number, ids), key=_code)


def _with_words(c: Connection, set_id: int, number: int, words: Iterable[str]) -> Iterator[Waypoint]:
    """Yield at least the waypoints that have, for each of `words`, a search word that begins with it.

    The words' table knows open states only: an older revision is looked through as a whole.
    """
    newest = c.scalar(select(waypoint_set.c.newest).where(waypoint_set.c.id == set_id))
    if newest is None or number < newest:
        return iter(_where(c, set_id, number, None))
    counted = sorted((_count(c, word), word) for word in set(words))
    ids = _ids(c, counted[0][1])
    for count, word in counted[1:]:
        if count < _RARE and ids:
            ids &= _ids(c, word)
    return _by_ids(c, set_id, number, sorted(ids))


def _ids(c: Connection, word: str) -> set[int]:
    return {number for table in _beginning_with(word) for number in c.scalars(table)}


def _beginning_with(word: str) -> tuple[Select[int], Select[int]]:
    """Return the searches for states with a word that begins so: words of names, and codes that are one word."""
    return (
        select(_word.state_id).where(_starts(_word.word, word)),
        select(_state.id).where(_starts(_state.code_folded, word)),
    )


def _count(c: Connection, word: str) -> int:
    """Return how many states have a word that begins so; not beyond _RARE, since one that is rarer is looked for."""
    tables = [table.limit(_RARE).subquery() for table in _beginning_with(word)]
    return sum(c.scalar(select(func.count()).select_from(table)) or 0 for table in tables)


def _by_ids(c: Connection, set_id: int, number: int, ids: Iterable[int]) -> Iterator[Waypoint]:
    """Yield those of the states that stand in a set at a revision.

    They are looked up by number: told of the set as it is, SQLite may read the whole of it. A server has to be, where
    its table has a partition for each set; and states of other sets need not come here.
    """
    held = _state.set_id + 0 if c.dialect.name == "sqlite" else _state.set_id
    columns = (_state.valid_from, _state.valid_to, *READ)
    for batch in batches(ids, IN_LIST):
        for row in c.execute(select(*columns).where(_state.id.in_(batch), held == set_id)):
            if row[0] <= number and (row[1] is None or row[1] > number):
                yield waypoint_of(row[2:])


def box_of(
    latitude_e7: ColumnElement[int], longitude_e7: ColumnElement[int], centre: Position, within_m: float
) -> ColumnElement[bool]:
    """Return the condition of a box that holds every place within a distance; it may hold some beyond it."""
    height_deg = within_m / _METRES_PER_DEGREE * 1.001 + 1e-6
    south, north = centre.latitude_deg - height_deg, centre.latitude_deg + height_deg
    condition = and_(latitude_e7 >= math.floor(south * E7), latitude_e7 <= math.ceil(north * E7))
    widest = max(abs(south), abs(north))
    if widest >= 89.0:
        return condition  # a pole may lie inside: every longitude
    width_deg = height_deg / math.cos(math.radians(widest))
    if width_deg >= 180.0:
        return condition
    west, east = centre.longitude_deg - width_deg, centre.longitude_deg + width_deg
    low, high = math.floor(west * E7), math.ceil(east * E7)
    turn = 360 * E7
    if low < -turn // 2:
        return and_(condition, or_(longitude_e7 >= low + turn, longitude_e7 <= high))
    if high >= turn // 2:
        return and_(condition, or_(longitude_e7 >= low, longitude_e7 <= high - turn))
    return and_(condition, longitude_e7 >= low, longitude_e7 <= high)
