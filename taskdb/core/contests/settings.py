"""What contests differ in: every setting with its default and where that comes from, read from text and shown.

A setting is kept only where it was set; what is not set has its default. Rules that measuring needs (earth model,
deductions, triangle) live in `Contest.rules`, everything else in `Contest.settings` under the setting's key. What is
set for a class or a day, and what holds for whom, is for `core.contests.scopes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any

from taskdb.core.contests.setting_kinds import KINDS, limited_text
from taskdb.core.kinds import DEFAULT_LEGAL_END, LegalEnd
from taskdb.core.model import Contest, Deduction, Earth, Rules, TriangleRules
from taskdb.core.plain import plain
from taskdb.core.review.limits import LIMITS, Limits
from taskdb.errors import UsageError

NO_SOURCE = "common practice, no source"
MEMORY = "from memory"
SC3 = "FAI Sporting Code Section 3, edition of about 2008"
DEFAULT = "default"
"""Typed in place of a value, it takes a setting back to its default."""


class Reach(StrEnum):
    """For whom a setting may be set: the whole contest only; each of contest, class, day, class on a day; days only."""

    CONTEST = "contest"
    ANY = "any"
    DAY = "day"


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: `key` names it in JSON and presets, `kind` how it is typed, `words` what it is for people.

    `default` is a plain value (None: nothing is set); `place` is where a contest's own value lives: `settings`, `rules`
    or `triangle`; `most` the letters of a text; `reach` for whom it may be set.
    """

    key: str
    kind: str
    words: str
    group: str
    default: Any = None
    source: str = NO_SOURCE
    choices: tuple[str, ...] = ()
    place: str = "settings"
    reach: Reach = Reach.CONTEST
    most: int = 0

    def read(self, text: str) -> Any:
        """Return the plain value that a person typed; UsageError with the form that is expected."""
        if self.kind == "choice":
            return self._choose(text)
        try:
            return limited_text(text, self.most) if self.kind == "text" else KINDS[self.kind].read(text)
        except UsageError as error:
            told = f"{self.words}: {error.message}"
            raise UsageError(error.code, told, hint=error.hint, details=error.details) from None

    def _choose(self, text: str) -> str:
        if text.strip().lower() not in self.choices:
            raise UsageError(
                "bad-choice", f"{self.words}: {text!r} is none of {', '.join(self.choices)}.", hint="Give one of them."
            )
        return text.strip().lower()

    def show(self, value: Any) -> str:
        """Return a plain value as it would be typed, for people."""
        return "not set" if value is None else KINDS[self.kind].show(value)

    def holds(self, value: Any) -> bool:
        """Say whether a plain value from a store can be one of this setting."""
        if self.kind == "choice":
            return value in self.choices
        return KINDS[self.kind].holds(value) and (self.kind != "text" or 0 < len(value) <= self.most)


_RULES, _TRIANGLE = Rules(), TriangleRules()

SETTINGS: tuple[Setting, ...] = (
    Setting("earth", "choice", "earth model", "measuring", _RULES.earth.value, f"{SC3}, 4.4.1",
            tuple(e.value for e in Earth), "rules"),
    Setting("start_deduction", "choice", "start cylinder counts", "measuring", _RULES.start_deduction.value,
            "Annex A of about 2008, 7.4.1a", tuple(d.value for d in Deduction), "rules"),
    Setting("finish_deduction", "choice", "finish cylinder counts", "measuring", _RULES.finish_deduction.value,
            f"by analogy with the start, {MEMORY}", tuple(d.value for d in Deduction), "rules"),
    Setting("closed_within_m", "distance", "closed within", "measuring", _RULES.closed_within_m, NO_SOURCE,
            place="rules"),
    Setting("large_from_m", "distance", "large triangle from", "triangle", _TRIANGLE.large_from_m,
            f"{SC3}, 1.4.3d(iii); 500 km in a note of 2003", place="triangle"),
    Setting("small_shortest_percent", "percent", "shortest side", "triangle", _TRIANGLE.small_shortest_percent,
            f"{SC3}, 1.4.3d(iii), as restated in 2003", place="triangle"),
    Setting("large_shortest_percent", "percent", "shortest side of a large one", "triangle",
            _TRIANGLE.large_shortest_percent, f"{SC3}, 1.4.3d(iii)", place="triangle"),
    Setting("large_longest_percent", "percent", "longest side of a large one", "triangle",
            _TRIANGLE.large_longest_percent, f"{SC3}, 1.4.3d(iii)", place="triangle"),
    Setting("start_on_side", "switch", "start on a side allowed", "triangle", _TRIANGLE.start_on_side,
            f"{SC3}, 1.4.3d(i)", place="triangle"),
    Setting("start_opens", "time", "start opens", "start", reach=Reach.ANY),
    Setting("start_closes", "time", "start closes", "start", reach=Reach.ANY),
    Setting("start_height", "height", "start below", "start", reach=Reach.ANY),
    Setting("start_speed_kmh", "speed", "start not faster than", "start", reach=Reach.ANY),
    Setting("event_start", "switch", "pilot-event start", "start", False, reach=Reach.ANY),
    Setting("event_wait_s", "duration", "wait after the event", "start", 600,
            "2024 world championships, team report of 2024-08-19", reach=Reach.ANY),
    Setting("event_window_s", "duration", "window after the wait", "start", 600,
            "2024 world championships, team report of 2024-08-19", reach=Reach.ANY),
    Setting("event_most", "count", "events at most", "start", 3, MEMORY, reach=Reach.ANY),
    Setting("finish_height", "height", "finish above", "finish", reach=Reach.ANY),
    Setting("finish_closes", "time", "finish closes", "finish", reach=Reach.ANY),
    Setting("finish_procedure", "text", "finish procedure", "finish", reach=Reach.ANY, most=300),
    Setting("landing_procedure", "text", "landing procedure", "finish", reach=Reach.ANY, most=300),
    Setting("wind", "wind", "wind", "day", reach=Reach.DAY),
    Setting("speed_kmh", "speed", "planned speed in still air", "speeds", reach=Reach.ANY),
    Setting("slowest_kmh", "speed", "slowest average in still air", "speeds", reach=Reach.ANY),
    Setting("fastest_kmh", "speed", "fastest average in still air", "speeds", reach=Reach.ANY),
    Setting("working_altitude", "altitude", "flown up to", "limits", reach=Reach.ANY),
    Setting("qnh_hpa", "pressure", "pressure at sea level", "limits", reach=Reach.ANY),
    Setting("briefing_at", "time", "briefing", "briefing", reach=Reach.ANY),
    Setting("grid_at", "time", "grid", "briefing", reach=Reach.ANY),
    Setting("programme", "rows", "programme", "briefing", reach=Reach.ANY),
    Setting("outlanding_phone", "phone", "outlanding desk", "briefing", reach=Reach.ANY),
    Setting("remarks", "text", "remarks", "briefing", reach=Reach.ANY, most=600),
    Setting("legal_end", "choice", "legal end of day", "day", DEFAULT_LEGAL_END.value,
            f"the earliest, {NO_SOURCE}: set what the law of the country says", tuple(e.value for e in LegalEnd)),
    Setting("areas_by_hand", "switch", "areas are passed by hand", "sheet", False, reach=Reach.ANY),
    Setting("units_distance", "choice", "distances in", "sheet", "km", NO_SOURCE, ("km", "mi", "nmi")),
    Setting("units_height", "choice", "heights in", "sheet", "m", NO_SOURCE, ("m", "ft")),
    Setting("units_speed", "choice", "speeds in", "sheet", "km/h", NO_SOURCE, ("km/h", "kt", "mph")),
    *(
        Setting(limit.name, limit.kind, limit.meaning, "limits", plain(getattr(Limits(), limit.name)), limit.source,
                reach=Reach.ANY)
        for limit in LIMITS
    ),
)  # fmt: skip
BY_KEY: Mapping[str, Setting] = {setting.key: setting for setting in SETTINGS}
FREQUENCIES = "frequencies"
"""The key of `Contest.settings` that holds channels by purpose, in the order in which they were given."""
SOURCES = "sources"
"""The key of `Contest.settings` that holds where a preset's values come from, by setting or role."""
SET_HERE = "set here"


def setting_named(key: str) -> Setting:
    """Return the setting of that key; UsageError where there is none."""
    if key not in BY_KEY:
        raise UsageError("unknown-setting", f"There is no setting {key!r}.", hint=f"Settings: {', '.join(BY_KEY)}.")
    return BY_KEY[key]


def kept_source(contest: Contest, key: str) -> str | None:
    """Return what a preset said about where a setting's or a role's value comes from; None where it said nothing."""
    source = contest.settings.get(SOURCES, {}).get(key)
    return None if source is None else str(source)


def source_of(contest: Contest, key: str) -> str:
    """Return where a setting's value comes from, for people; empty where nothing is set and nothing is the default."""
    setting = BY_KEY[key]
    value, is_set = value_of(contest, setting)
    kept = kept_source(contest, key)
    if kept is not None:
        return kept
    if is_set:
        return SET_HERE
    return "" if value is None else f"default: {setting.source}"


def with_sources(contest: Contest, sources: Mapping[str, str | None]) -> Contest:
    """Return the contest with sources kept by setting or role; None takes one away, as when a value is set by hand."""
    kept = {**contest.settings.get(SOURCES, {}), **sources}
    kept = {key: text for key, text in kept.items() if text}
    settings = {key: value for key, value in contest.settings.items() if key != SOURCES}
    return replace(contest, settings={**settings, **({SOURCES: kept} if kept else {})})


def value_of(contest: Contest, setting: Setting) -> tuple[Any, bool]:
    """Return a contest's plain value for a setting, and whether it is set (else it is the default)."""
    if setting.place == "settings":
        value = contest.settings.get(setting.key)
        return (setting.default, False) if value is None else (value, True)
    holder = contest.rules.triangle if setting.place == "triangle" else contest.rules
    value = getattr(holder, setting.key)
    plain = getattr(value, "value", value)
    return plain, plain != setting.default


def with_values(contest: Contest, values: Mapping[str, Any]) -> Contest:
    """Return the contest with plain values set by key; None takes a setting back to its default.

    What was said about where the old values come from goes with them.

    UsageError for a key that is no setting.
    """
    contest = with_sources(contest, dict.fromkeys(values))
    settings = dict(contest.settings)
    rules, triangle = asdict(contest.rules), asdict(contest.rules.triangle)
    for key, value in values.items():
        setting = setting_named(key)
        if setting.reach is Reach.DAY:
            raise UsageError(
                "not-for-this-scope",
                f"{setting.words} ({key}) is set for a day, not for a whole contest.",
                hint="`taskdb contest day NAME N` keeps a day.",
            )
        if setting.place == "settings":
            settings.pop(key, None)
            if value is not None:
                settings[key] = value
        else:
            holder = triangle if setting.place == "triangle" else rules
            holder[key] = setting.default if value is None else value
    made = TriangleRules(**triangle)
    _require_possible(made)
    return replace(
        contest,
        settings=settings,
        rules=Rules(
            earth=Earth(rules["earth"]),
            start_deduction=Deduction(rules["start_deduction"]),
            finish_deduction=Deduction(rules["finish_deduction"]),
            triangle=made,
            closed_within_m=float(rules["closed_within_m"]),
        ),
    )


def _require_possible(triangle: TriangleRules) -> None:
    """Refuse limits that no triangle can meet: three sides are a hundred percent."""
    if triangle.small_shortest_percent > 100 / 3 or triangle.large_shortest_percent > 100 / 3:
        raise UsageError("impossible-triangle", "No triangle has all sides above 33.3 %.", hint="Give a lower limit.")
    if triangle.large_longest_percent < 100 / 3:
        raise UsageError("impossible-triangle", "No triangle has all sides below 33.3 %.", hint="Give a higher limit.")


def read_values(texts: Mapping[str, str]) -> dict[str, Any]:
    """Return typed texts by key as plain values; the word `default` as None."""
    values = {}
    for key, text in texts.items():
        setting = setting_named(key)
        values[key] = None if text.strip().lower() == DEFAULT else setting.read(text)
    return values
