"""What holds in a contest for a class on a day: the one place that decides, with where each value comes from. Pure.

The nearer wins: the class on that day, the class, the day, the contest, the default. (A task's own time or speed is
nearer than all of them: who has a task asks it first.) Values are set for a scope here too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.setting_kinds import wind_from_value, wind_value
from taskdb.core.contests.settings import (
    BY_KEY,
    FREQUENCIES,
    SETTINGS,
    SOURCES,
    Reach,
    Setting,
    kept_source,
    source_of,
    value_of,
    with_sources,
    with_values,
)
from taskdb.core.course.assembly import defaults_of
from taskdb.core.course.wind import SpeedRange, wind_of
from taskdb.core.facilities import with_channels
from taskdb.core.model import Contest, ContestClass, ContestDay, Role, Scope, ScopeValues, Zone, ZoneFrom
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Wind
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.core.airspace.heights import FlownHeights

WHOLE = Scope()
"""The scope of the whole contest."""

_OF_DAY = ("start_opens", "speed_kmh")
_OF_CLASS = ("slowest_kmh", "fastest_kmh")
# These stand in fields of `ContestDay` and `ContestClass` and not among the values of their scope.


def scope_words(scope: Scope) -> str:
    """Return a scope for people: `class Club on day 2`, `class Club`, `day 2`, `the contest`."""
    who = "" if scope.class_name is None else f"class {scope.class_name}"
    when = "" if scope.day is None else f"day {scope.day}"
    return " on ".join(part for part in (who, when) if part) or "the contest"


def scopes_for(class_name: str | None, day: int | None) -> tuple[Scope, ...]:
    """Return the scopes that count for a class on a day, the nearest first; the whole contest is the last."""
    found = (Scope(class_name, day), Scope(class_name), Scope(None, day), WHOLE)
    return tuple(dict.fromkeys(found))


def scopes_of(contest: Contest) -> tuple[Scope, ...]:
    """Return the scopes for which a contest can have set something, in order: the contest, classes, days, both."""
    found = {*contest.scoped, *(Scope(one.name) for one in contest.classes)}
    found |= {Scope(None, day.number) for day in contest.days}
    return (WHOLE, *sorted(found - {WHOLE}, key=lambda scope: (scope.day or 0, scope.class_name or "")))


@dataclass(frozen=True, slots=True)
class Held:
    """A value that holds (None: nothing is set), the scope that sets it (None: none does), and where it comes from."""

    value: Any
    scope: Scope | None
    source: str

    @property
    def whose(self) -> str:
        """Return whose the value is, for people: `class Club`, `day 2`, `the contest`; of a default `default`."""
        return "default" if self.scope is None else scope_words(self.scope)


@dataclass(frozen=True, slots=True)
class Holding:
    """All that holds for a class on a day: settings by key, zone defaults by role, channels by what they are for."""

    class_name: str | None
    day: int | None
    values: Mapping[str, Held]
    zones: Mapping[Role, tuple[Zone, ZoneFrom]]
    channels: Mapping[str, str]

    def get(self, key: str) -> Any:
        """Return the plain value of a setting; its default, which may be None, where nothing is set."""
        return self.values[key].value

    @property
    def settings(self) -> Mapping[str, Any]:
        """Return the plain values by key, of what is set or has a default."""
        return MappingProxyType({key: held.value for key, held in self.values.items() if held.value is not None})

    @property
    def wind(self) -> Wind | None:
        """Return the wind that holds, None where none is set or the store holds junk, which `store verify` tells."""
        wind = self.get("wind")
        return wind_from_value(wind) if BY_KEY["wind"].holds(wind) else None


def what_holds(contest: Contest | None, class_name: str | None, day: int | None) -> Holding:
    """Return what holds for a class on a day (None: for tasks without one); without a contest the defaults."""
    scopes = scopes_for(class_name, day)
    values = {setting.key: _held(contest, setting, scopes) for setting in SETTINGS}
    channels: dict[str, str] = {}
    for scope in reversed(scopes):
        channels |= channels_at(contest, scope)
    return Holding(class_name, day, values, zone_defaults(contest, class_name, day), channels)


def _held(contest: Contest | None, setting: Setting, scopes: tuple[Scope, ...]) -> Held:
    for scope in scopes:
        value = value_at(contest, scope, setting.key)
        if contest is not None and value is not None:
            return Held(value, scope, _source(contest, setting.key, scope))
    return Held(setting.default, None, "" if setting.default is None else f"default: {setting.source}")


def _source(contest: Contest, key: str, scope: Scope) -> str:
    if scope == WHOLE:
        return source_of(contest, key)
    return kept_source(contest, source_key(scope, key)) or f"set for {scope_words(scope)}"


def source_key(scope: Scope, key: str) -> str:
    """Return the name under which is kept where the value of a setting or role comes from, as a preset said."""
    return key if scope == WHOLE else f"{scope_words(scope)}: {key}"


def zone_defaults(
    contest: Contest | None, class_name: str | None, day: int | None
) -> Mapping[Role, tuple[Zone, ZoneFrom]]:
    """Return each role's default zone for a class on a day and where it comes from; built in where none is set."""
    if contest is None:
        return defaults_of(None)
    nearer = [
        (zones_at(contest, scope), ZoneFrom.DAY if scope.class_name is None else ZoneFrom.CLASS)
        for scope in scopes_for(class_name, day)
        if scope != WHOLE
    ]
    return defaults_of(contest.zones, nearer)


def zones_at(contest: Contest, scope: Scope) -> Mapping[Role, Zone]:
    """Return the zone defaults that are set for exactly this scope."""
    return contest.zones if scope == WHOLE else _own(contest, scope).zones


def channels_at(contest: Contest | None, scope: Scope) -> Mapping[str, str]:
    """Return the channels by purpose that are set for exactly this scope."""
    if contest is None:
        return {}
    found = _settings_at(contest, scope).get(FREQUENCIES)
    return found if isinstance(found, Mapping) else {}


def value_at(contest: Contest | None, scope: Scope, key: str) -> Any:
    """Return the plain value that is set for exactly this scope; None where none is."""
    if contest is None:
        return None
    if scope == WHOLE:
        value, is_set = value_of(contest, BY_KEY[key])
        return value if is_set else None
    day, named = day_at(contest, scope), class_at(contest, scope)
    if day is not None and key in _OF_DAY:
        return getattr(day, key)
    if day is not None and key == "wind":
        wind = wind_of(day)
        return None if wind is None else wind_value(wind)
    if named is not None and key in _OF_CLASS:
        return getattr(named, key)
    return _own(contest, scope).settings.get(key)


def _own(contest: Contest, scope: Scope) -> ScopeValues:
    return contest.scoped.get(scope, ScopeValues())


def _settings_at(contest: Contest, scope: Scope) -> Mapping[str, Any]:
    return contest.settings if scope == WHOLE else _own(contest, scope).settings


def day_at(contest: Contest, scope: Scope) -> ContestDay | None:
    """Return the contest's day where the scope is that of a day for all, None of any other."""
    if scope.class_name is not None or scope.day is None:
        return None
    return next((day for day in contest.days if day.number == scope.day), None)


def class_at(contest: Contest, scope: Scope) -> ContestClass | None:
    """Return the contest's class where the scope is that of a class on all days, None of any other."""
    if scope.day is not None or scope.class_name is None:
        return None
    return next((one for one in contest.classes if one.name == scope.class_name), None)


# -- setting -----------------------------------------------------------------------------------------------------


def set_values(contest: Contest, values: Mapping[str, Any], scope: Scope = WHOLE) -> Contest:
    """Return the contest with plain values set by key for a scope; None takes one away, so that the farther one holds.

    A day that is not there is made, one of which nothing is left is taken out. UsageError for a key that is no setting
    or cannot be set for this scope, and for a class that the contest does not have.
    """
    require_scope(contest, scope)
    for key in values:
        _require_reach(key, scope)
    if scope == WHOLE:
        return with_values(contest, values)
    contest = with_sources(contest, {source_key(scope, key): None for key in values})
    rest = dict(values)
    if scope.class_name is None:
        contest = _with_day(contest, scope.day or 0, _day_fields(rest))
    elif scope.day is None:
        fields = {key: rest.pop(key) for key in _OF_CLASS if key in rest}
        classes = (replace(one, **fields) if one.name == scope.class_name else one for one in contest.classes)
        contest = replace(contest, classes=tuple(classes))
    before = _own(contest, scope)
    settings = {key: value for key, value in {**before.settings, **rest}.items() if value is not None}
    return tidy(_with_scope(contest, scope, replace(before, settings=settings)))


def set_zones(contest: Contest, zones: Mapping[Role, Zone | None], scope: Scope = WHOLE) -> Contest:
    """Return the contest with zone defaults set by role for a scope; None takes one away.

    UsageError for a class that the contest does not have.
    """
    require_scope(contest, scope)
    after = {role: zone for role, zone in {**zones_at(contest, scope), **zones}.items() if zone is not None}
    contest = with_sources(contest, {source_key(scope, role.value): None for role in zones})
    if scope == WHOLE:
        return replace(contest, zones=after)
    return tidy(_with_scope(contest, scope, replace(_own(contest, scope), zones=after)))


def set_channels(contest: Contest, channels: Mapping[str, str], scope: Scope = WHOLE) -> Contest:
    """Return the contest with channels set by purpose for a scope; an empty one is taken away."""
    require_scope(contest, scope)
    if not channels:
        return contest
    written = {purpose: with_channels(channel) for purpose, channel in channels.items()}
    kept = {purpose: channel for purpose, channel in {**channels_at(contest, scope), **written}.items() if channel}
    settings = {key: value for key, value in _settings_at(contest, scope).items() if key != FREQUENCIES}
    settings |= {FREQUENCIES: kept} if kept else {}
    if scope == WHOLE:
        return replace(contest, settings=settings)
    return tidy(_with_scope(contest, scope, replace(_own(contest, scope), settings=settings)))


def without_days(contest: Contest) -> Contest:
    """Return the contest without its days and whatever was set for one of them."""
    return replace(contest, days=(), scoped={scope: own for scope, own in contest.scoped.items() if scope.day is None})


def tidy(contest: Contest) -> Contest:
    """Return the contest without values for classes that it does not have, and without days that hold nothing.

    A day holds something by itself, or where a class has a value on it.
    """
    names = {one.name for one in contest.classes}
    scoped = {scope: own for scope, own in contest.scoped.items() if scope.class_name in names | {None}}
    gone = {key for key in contest.settings.get(SOURCES, {}) if key.startswith("class ")}
    gone -= {key for name in names for key in gone if key.startswith((f"class {name}: ", f"class {name} on day "))}
    contest = with_sources(contest, dict.fromkeys(gone)) if gone else contest
    filled = {scope.day for scope in scoped if scope.day is not None}
    days = {day.number: day for day in contest.days if day.number in filled or day != ContestDay(day.number)}
    days |= {number: ContestDay(number) for number in filled - set(days)}
    kept = tuple(day for _, day in sorted(days.items()))
    return replace(contest, scoped=dict(sorted(scoped.items(), key=_order)), days=kept)


def _order(item: tuple[Scope, ScopeValues]) -> tuple[int, str]:
    return item[0].day or 0, item[0].class_name or ""


def _with_scope(contest: Contest, scope: Scope, own: ScopeValues) -> Contest:
    scoped = {kept: values for kept, values in contest.scoped.items() if kept != scope}
    return replace(contest, scoped={**scoped, **({scope: own} if own.zones or own.settings else {})})


def _day_fields(rest: dict[str, Any]) -> dict[str, Any]:
    """Take what stands in fields of a day out of the values, and return it by field."""
    fields = {key: rest.pop(key) for key in _OF_DAY if key in rest}
    if "wind" in rest:
        wind = rest.pop("wind")
        fields |= {
            "wind_from_deg": None if wind is None else float(wind["from_deg"]),
            "wind_speed_kmh": None if wind is None else float(wind["speed_kmh"]),
            "wind_text": None if wind is None else wind.get("text"),
        }
    return fields


def _with_day(contest: Contest, number: int, fields: Mapping[str, Any]) -> Contest:
    before = day_at(contest, Scope(None, number)) or ContestDay(number)
    others = tuple(day for day in contest.days if day.number != number)
    days = sorted((*others, replace(before, **fields)), key=lambda day: day.number)
    return replace(contest, days=tuple(days))


def require_scope(contest: Contest, scope: Scope) -> None:
    """Raise UsageError for a class that the contest does not have."""
    names = [one.name for one in contest.classes]
    if scope.class_name is not None and scope.class_name not in names:
        raise UsageError(
            "unknown-class",
            f"{contest.name!r} has no class {scope.class_name!r}.",
            hint=f"Its classes: {', '.join(names)}."
            if names
            else f"Make it: {command_line('contest classes', contest.name, options=['--class', scope.class_name])}",
        )


def _require_reach(key: str, scope: Scope) -> None:
    setting = BY_KEY.get(key)
    if setting is None or scope == WHOLE:
        return  # `with_values` refuses it.
    if setting.reach is Reach.CONTEST or (setting.reach is Reach.DAY and scope.day is None):
        where = "the whole contest" if setting.reach is Reach.CONTEST else "a day"
        raise UsageError(
            "not-for-this-scope",
            f"{setting.words} ({key}) is set for {where} only, not for {scope_words(scope)}.",
            hint="Leave out --class and --day." if setting.reach is Reach.CONTEST else "Name the day.",
        )


def impossible_values(contest: Contest) -> list[str]:
    """Return a sentence for each value that no command sets: of another kind, for nobody, for a class of none."""
    told = []
    names, days = {one.name for one in contest.classes}, {day.number for day in contest.days}
    for scope in (WHOLE, *contest.scoped):
        who = scope_words(scope)
        if scope.class_name not in names | {None} or scope.day not in days | {None}:
            told.append(f"values are set for {who}, which the contest does not have")
        for key, value in _settings_at(contest, scope).items():
            setting = BY_KEY.get(key)
            if setting is not None and not setting.holds(value):
                told.append(f"{key} for {who} is {value!r}, which is no value of its kind ({setting.kind})")
    return told


# -- what is expected of a class ---------------------------------------------------------------------------------


def flying_day(holding: Holding, date: str | None, number: int) -> ContestDay:
    """Return a day as it holds for a class: start, wind and planned speed from the nearest scope."""
    wind = holding.wind
    return ContestDay(
        number=number,
        date=date,
        start_opens=holding.get("start_opens"),
        wind_from_deg=None if wind is None else wind.from_deg,
        wind_speed_kmh=None if wind is None else wind.speed_kmh,
        speed_kmh=holding.get("speed_kmh"),
        wind_text=None if wind is None else wind.text,
    )


def flown_heights(holding: Holding) -> FlownHeights:
    """Return up to which altitude a class flies on a day, and the pressure, as far as its contest says."""
    from taskdb.core.airspace.heights import FlownHeights  # most looks at a contest do without airspace

    altitude, qnh = holding.get("working_altitude"), holding.get("qnh_hpa")
    return FlownHeights(
        working_altitude_m=float(altitude["m"]) if BY_KEY["working_altitude"].holds(altitude) else None,
        qnh_hpa=(float(qnh), float(qnh)) if BY_KEY["qnh_hpa"].holds(qnh) else None,
    )


def speeds_expected(contest: Contest | None, class_name: str | None, day: int | None) -> SpeedRange | None:
    """Return the speeds of a class on a day; for a task without a class those of all the contest's classes together."""
    if contest is None:
        return None
    names: list[str | None] = [class_name] if class_name is not None else [one.name for one in contest.classes]
    names = names or [None]
    held = [what_holds(contest, name, day) for name in names]
    slowest = min((value for one in held if (value := one.get("slowest_kmh"))), default=None)
    fastest = max((value for one in held if (value := one.get("fastest_kmh"))), default=None)
    if slowest is None and fastest is None:
        return None
    whose = "the contest's classes" if len(names) > 1 else f"class {names[0]}" if names[0] else "the contest"
    return SpeedRange(slowest, fastest, whose)
