"""What landable cover reckons with and over which fields: from what was asked for, else from the contest's limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.airspace.heights import pressure_shift_m
from taskdb.core.contests.scopes import Holding, flown_heights
from taskdb.core.course.regions import counted_position
from taskdb.core.course.wind import CALM
from taskdb.core.filters.waypoints import WaypointFilter
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Landable, Task
from taskdb.core.numbers import counted, some_of
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Height, HeightReference, Wind
from taskdb.core.review.limits import Limits
from taskdb.errors import UsageError
from taskdb.services.ground import open_ground
from taskdb.services.references import SetAt
from taskdb.store import waypoints as waypoint_rows

if TYPE_CHECKING:
    from taskdb.core.judgement.cover import Cover, Terms
    from taskdb.core.judgement.fields import Fields
    from taskdb.store.engine import Connection

HERE = "given here"
UNKNOWN = "cover-unknown"
"""The code of the refusal where a glide or a working altitude is not known."""
_MOST_TOLD = 8
_SETTINGS = {
    "glide": "cover_glide",
    "working_altitude": "working_altitude",
    "airspeed_kmh": "cover_airspeed_kmh",
    "safety_m": "cover_safety_m",
    "clearance_m": "cover_clearance_m",
    "free_m": "cover_free_m",
    "landable": "cover_landable",
}
"""By what was asked for: the setting that a contest has for it."""


@dataclass(frozen=True, slots=True)
class CoverAsked:
    """What was asked for in place of the contest's limits; None, and no kinds: what holds there.

    `inspected_since` (ISO date) leaves out fields that nobody has looked at since; `ignore_terrain` asks for nothing
    about the ground.
    """

    glide: float | None = None
    working_altitude: Height | None = None
    airspeed_kmh: float | None = None
    wind: Wind | None = None
    safety_m: float | None = None
    clearance_m: float | None = None
    free_m: float | None = None
    landable: tuple[Landable, ...] = ()
    inspected_since: str | None = None
    ignore_terrain: bool = False


@dataclass(frozen=True)
class CoverFound:
    """The cover of a task's course, over the fields of which set, on which ground (None: none was asked).

    `sources` say by the name of what can be asked for whose each value is; `notes` what else there is to know.
    """

    cover: Cover
    fields_of: SetAt
    landable: tuple[Landable, ...]
    sources: Mapping[str, str]
    ground: GroundHeights | None
    notes: tuple[str, ...] = ()

    @property
    def fields_words(self) -> str:
        """Return which fields were looked at: `31 of region@3, landable as aerodrome, field`."""
        kinds = ", ".join(kind.value for kind in self.landable)
        return f"{counted(self.cover.fields, 'field')} of {self.fields_of}, landable as {kinds}"


class Covers:
    """The covers of several tasks: fields and ground are looked up once. `terrain` is the user's, if there is any."""

    def __init__(self, c: Connection, asked: CoverAsked, terrain: GroundHeights | None) -> None:
        self.c, self.asked, self.terrain = c, asked, terrain
        self._fields: dict[tuple[str, tuple[Landable, ...]], Fields] = {}

    def is_wanted(self, limits: Limits) -> bool:
        """Say whether there is a glide to reckon with."""
        return self.asked.glide is not None or limits.cover_glide is not None

    def of(self, task: Task, holding: Holding, limits: Limits, standing: SetAt, wind: Wind | None) -> CoverFound:
        """Return the cover of a task over the fields of the set that counts for it, in the wind of its day.

        UsageError where the glide or the working altitude is not known, or cannot be reckoned with.
        """
        from taskdb.core.judgement.cover import cover_course

        terms = self.terms(holding, limits, wind, task.contest)
        landable = self.asked.landable or limits.cover_landable
        ground = self.ground()
        points = [counted_position(point) for point in task.points]
        cover = cover_course(points, self.fields_of(standing, landable), terms, ground=ground, earth=task.rules.earth)
        return CoverFound(cover, standing, landable, self._sources(holding, wind), ground, _notes(cover, task))

    def ground(self) -> GroundHeights | None:
        """Return the ground that glides have to clear; None where none is asked for."""
        if self.asked.ignore_terrain:
            return None
        return self.terrain or open_ground(None)

    def fields_of(self, at: SetAt, landable: tuple[Landable, ...]) -> Fields:
        """Return the fields of a set that are landable in one of these ways."""
        from taskdb.core.judgement.fields import Fields

        key = (str(at), landable)
        if key not in self._fields:
            points = [
                point
                for kind in landable
                for point in waypoint_rows.find_waypoints(
                    self.c, at.head.id, at.revision, WaypointFilter(landable=kind)
                )
            ]
            self._fields[key] = Fields.of(points, landable, self.asked.inspected_since)
        return self._fields[key]

    def terms(self, holding: Holding, limits: Limits, wind: Wind | None, contest: str | None) -> Terms:
        """Return what is reckoned with. UsageError where glide or working altitude are not known, or cannot be used."""
        from taskdb.core.judgement.cover import Terms

        asked = self.asked
        ratio = asked.glide if asked.glide is not None else limits.cover_glide
        if ratio is None:
            raise _missing(contest, "glide", "--glide 25", "--cover-glide 25")
        airspeed = asked.airspeed_kmh if asked.airspeed_kmh is not None else limits.cover_airspeed_kmh
        if not airspeed > 0:
            raise UsageError(
                "bad-speed", "An airspeed of nothing glides nowhere.", hint="Give --airspeed, e.g. 100km/h."
            )
        height = asked.working_altitude or _set_altitude(holding)
        if height is None:
            raise _missing(
                contest, "working altitude", "--working-altitude '1500m MSL'", "--working-altitude '1500m MSL'"
            )
        return Terms(
            Glide(ratio, airspeed, wind or CALM),
            working_m=self._working_m(height, holding),
            working_text=height.text,
            is_above_ground=height.reference is HeightReference.AGL,
            safety_m=_first(asked.safety_m, limits.cover_safety_m),
            clearance_m=_first(asked.clearance_m, limits.cover_clearance_m),
            free_m=_first(asked.free_m, limits.cover_free_m),
        )

    def _working_m(self, height: Height, holding: Holding) -> float:
        """Return metres above the height's reference, of a flight level above sea at the pressure of the day."""
        if height.reference is HeightReference.AGL and (self.terrain is None or self.asked.ignore_terrain):
            raise UsageError(
                "needs-terrain",
                f"{height.text} is above ground, and the ground is not known.",
                hint="Give --terrain DIR, or the altitude above sea: --working-altitude '1500m MSL'.",
            )
        if height.reference is not HeightReference.FLIGHT_LEVEL:
            return height.metres
        qnh_hpa = flown_heights(holding).qnh_hpa
        if qnh_hpa is None:
            raise UsageError(
                "needs-pressure",
                f"{height.text} lies at a height that only the pressure of the day tells.",
                hint="Set it: taskdb contest limits CONTEST --qnh 1018hPa; or give the altitude above sea, "
                "e.g. '1500m MSL'.",
            )
        return height.metres + pressure_shift_m(min(qnh_hpa))

    def _sources(self, holding: Holding, wind: Wind | None) -> dict[str, str]:
        sources = {
            name: HERE if getattr(self.asked, name) else holding.values[key].whose for name, key in _SETTINGS.items()
        }
        return {**sources, "wind": HERE if self.asked.wind else "none is set" if wind is None else "the day"}


def _first(given: float | None, otherwise: float) -> float:
    return otherwise if given is None else given


def _set_altitude(holding: Holding) -> Height | None:
    metres = flown_heights(holding).working_altitude_m
    if metres is None:
        return None
    return Height(metres, HeightReference.MSL, str(holding.get("working_altitude")["text"] or f"{metres:.0f}m MSL"))


def _missing(contest: str | None, what: str, option: str, setting: str) -> UsageError:
    there = (
        f"; or for all of the contest: {command_line('contest limits', contest, options=setting.split())}"
        if contest
        else ""
    )
    return UsageError(UNKNOWN, f"Landable cover needs a {what}.", hint=f"Give {option}{there}.")


def _notes(cover: Cover, task: Task) -> tuple[str, ...]:
    """Return what there is to know beside the figures."""
    from taskdb.core.judgement.cover import CoverGround

    notes, of = [], f"of {len(cover.samples)} figures"
    if not cover.fields:
        notes.append("no field of the kinds asked for has an elevation")
    if cover.left_out:
        told = some_of(cover.left_out, _MOST_TOLD)
        notes.append(f"{counted(len(cover.left_out), 'field')} left out, without elevation: {told}")
    if cover.withheld and cover.ground is CoverGround.GRID:
        notes.append(
            f"{cover.withheld} {of} are withheld: on the way down the ground differs by more than 300 m, and the "
            "shipped grid of 9 km knows no mountain (--terrain DIR judges them, --ignore-terrain asks for no ground)"
        )
    elif cover.withheld:
        notes.append(f"{cover.withheld} {of} are withheld: the terrain does not reach all the way down")
    if cover.too_low:
        notes.append(
            f"at {cover.too_low} of {len(cover.samples)} places the working altitude is not "
            f"{cover.terms.clearance_m:.0f} m above the ground"
        )
    glide = cover.terms.glide
    if cover.fields and glide.wind.speed_kmh >= glide.airspeed_kmh:
        notes.append("the wind is as strong as the airspeed: what lies against it is in nobody's reach")
    if task.free is not None:
        notes.append("what the pilot chooses himself is not looked at")
    return tuple(notes)
