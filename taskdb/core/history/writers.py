"""A difference of two states of a set as plain values: the JSON of `set diff`, and GeoJSON (RFC 7946) for a map."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from taskdb.core.history.changes import SetDiff, changed_fields
from taskdb.core.history.facts import ChangeFacts, Counts, facts_of
from taskdb.core.history.locate import Located
from taskdb.core.history.words import change_words
from taskdb.core.model import Position, Waypoint
from taskdb.core.plain import course_degrees, degrees, metres, waypoint_plain


def changed_plain(fact: ChangeFacts) -> dict[str, Any]:
    """Return one change: the new code and name, the move, and the fields that differ as `[old, new]`.

    A moved waypoint has the coordinate that differs under its own JSON name.
    """
    before = waypoint_plain(fact.old, set_name=None, revision=None)
    after = waypoint_plain(fact.new, set_name=None, revision=None)
    fields = changed_fields(fact.old, fact.new)
    names = [name for name in before if name in fields]
    if "position" in fields:
        names += [name for name in ("latitude_deg", "longitude_deg") if before[name] != after[name]]
    return {
        "code": fact.new.code,
        "name": fact.new.name,
        "identity": fact.new.identity,
        "moved_m": None if fact.moved_m is None else metres(fact.moved_m),
        "moved_bearing_deg": None if fact.bearing_deg is None else course_degrees(fact.bearing_deg),
        "refined": fact.is_refined,
        "fields": {name: [before[name], after[name]] for name in names},
    }


def located_plain(located: Iterable[Located]) -> list[dict[str, Any]]:
    """Return what was matched otherwise than by identity, or code with name nearby."""
    return [
        {
            "code": one.base.code,
            "here": one.ours.code,
            "round": one.round.value,
            "distance_m": metres(one.distance_m),
        }
        for one in located
    ]


def counts_plain(counts: Counts) -> dict[str, int]:
    """Return the headline counts."""
    return {
        "added": counts.added,
        "retired": counts.retired,
        "changed": counts.changed,
        "renumbered": counts.renumbered,
        "renamed": counts.renamed,
        "moved": counts.moved,
        "refined": counts.refined,
        "other_fields": counts.others,
    }


def diff_plain(
    difference: SetDiff, facts: Sequence[ChangeFacts], old: tuple[str, int], new: tuple[str, int]
) -> dict[str, Any]:
    """Return a difference between two revisions (name, number); an added waypoint is as of the new one."""

    def listed(waypoints: Sequence[Waypoint], at: tuple[str, int]) -> list[dict[str, Any]]:
        return [waypoint_plain(waypoint, set_name=at[0], revision=at[1]) for waypoint in waypoints]

    return {
        "from": f"{old[0]}@{old[1]}",
        "to": f"{new[0]}@{new[1]}",
        "added": listed(difference.added, new),
        "retired": listed(difference.retired, old),
        "changed": [changed_plain(fact) for fact in facts],
    }


def diff_geojson(difference: SetDiff) -> dict[str, Any]:
    """Return a FeatureCollection: a point for every waypoint touched, a line from old to new for every move.

    `change` says `added`, `retired` or `changed` of a point and `moved` of a line. Positions are (longitude,
    latitude), as RFC 7946 has them.
    """
    features = [_feature(_point(w.position), w, "added") for w in difference.added]
    features += [_feature(_point(w.position), w, "retired") for w in difference.retired]
    for change in difference.changed:
        fact = facts_of(change)
        what = "; ".join(change_words(fact))
        features.append(_feature(_point(fact.new.position), fact.new, "changed", what=what, old_code=fact.old.code))
        if fact.moved_m is not None:
            line = _line(fact.old.position, fact.new.position)
            features.append(_feature(line, fact.new, "moved", moved_m=metres(fact.moved_m)))
    return {"type": "FeatureCollection", "features": features}


def _pair(position: Position) -> list[float]:
    return [degrees(position.longitude_deg), degrees(position.latitude_deg)]


def _line(old: Position, new: Position) -> dict[str, Any]:
    """Return a line; one that crosses the antimeridian is cut there (RFC 7946 3.1.9)."""
    turn = new.longitude_deg - old.longitude_deg
    if abs(turn) <= 180.0:
        return {"type": "LineString", "coordinates": [_pair(old), _pair(new)]}
    edge = 180.0 if turn < 0 else -180.0
    share = (edge - old.longitude_deg) / (turn + 2 * edge)
    latitude = degrees(old.latitude_deg + share * (new.latitude_deg - old.latitude_deg))
    return {
        "type": "MultiLineString",
        "coordinates": [[_pair(old), [edge, latitude]], [[-edge, latitude], _pair(new)]],
    }


def _point(position: Position) -> dict[str, Any]:
    return {"type": "Point", "coordinates": _pair(position)}


def _feature(geometry: Mapping[str, Any], waypoint: Waypoint, change: str, **more: Any) -> dict[str, Any]:
    properties = {"change": change, "code": waypoint.code, "name": waypoint.name, **more}
    return {"type": "Feature", "geometry": dict(geometry), "properties": properties}
