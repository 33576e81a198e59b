"""What is asked for when tasks are proposed, and what is answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from taskdb.core.kinds import Earth, Feature, HomeAt, Landable, ProposedShape
from taskdb.core.model import Place
from taskdb.core.quantities import Units
from taskdb.services.tasks.covers import CoverAsked

if TYPE_CHECKING:
    from taskdb.core.contests.days import DayChange
    from taskdb.core.filters.tasks import Sector
    from taskdb.core.judgement.fit import Asked
    from taskdb.core.quantities import Step
    from taskdb.services.tasks.fitting import Fitted


@dataclass(frozen=True)
class AreasRequest:
    """Turn points are to become areas of one radius that suits this minimum time and these averages in still air.

    Speeds that are None are those of the contest's class.
    """

    time_s: int
    step: Step
    slowest_kmh: float | None = None
    fastest_kmh: float | None = None


@dataclass(frozen=True)
class ProposalRequest:
    """What is asked for: shape and band of length from a place, what keeps a course out, and how to weigh the rest.

    `landable` and `features` are what turn points must be, any of each; None and empty ask nothing. `most_out_m`: so
    much of a course may be out of glide. `save`: the beginning of the names under which those shown become tasks.
    """

    home: str
    shape: ProposedShape
    least_m: float
    most_m: float
    contest: str | None = None
    set_reference: str | None = None
    day: int | None = None
    class_name: str | None = None
    start: HomeAt = HomeAt.CORNER
    within_m: float = 5_000.0
    least_share_percent: float | None = None
    earth: Earth | None = None
    features: tuple[Feature, ...] = ()
    landable: tuple[Landable, ...] = ()
    inspected_since: str | None = None
    avoid: tuple[str, ...] = ()
    airspace: tuple[str, ...] = ()
    heading: Sector | None = None
    heading_home: Sector | None = None
    farthest_m: float | None = None
    most_out_m: float | None = None
    given_day: DayChange | None = None
    glide: CoverAsked = field(default_factory=CoverAsked)
    terrain: str | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    areas: AreasRequest | None = None
    apart_m: float = 20_000.0
    limit: int | None = None
    show_all: bool = False
    save: str | None = None
    to: str | None = None
    """A file for the page with their maps: `.html`, or the maps alone as `.svg`."""
    units: Units = Units.KM
    overwrite: bool = False


@dataclass(frozen=True)
class PageWritten:
    path: str
    bytes: int


@dataclass(frozen=True)
class Proposal:
    """A course from home and back. Listed without judgement it has neither score nor figures.

    `values` are those of the figures on their scales, from 0 to 1; `like` the saved tasks that it is like. `areas` are
    those that were fitted to its turn points, where they were asked for.
    """

    places: tuple[Place, ...]
    distance_m: float
    perimeter_m: float | None
    margin_percent: float | None
    score: float | None = None
    figures: Mapping[str, float | None] = field(default_factory=dict)
    values: Mapping[str, float | None] = field(default_factory=dict)
    like: tuple[str, ...] = ()
    areas: Fitted | None = None

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(place.code for place in self.places)


@dataclass(frozen=True)
class AreasTried:
    """How many courses areas were tried on, the best first, and of how many none suits the slowest or the fastest.

    `time_that_fits_s` is a minimum time that would suit the best of those that none suits, if any. `asked` is what they
    were to suit, None where there was nothing to try.
    """

    asked: Asked | None
    tried: int
    unsuited: int
    too_long: int
    too_short: int
    time_that_fits_s: float | None


@dataclass(frozen=True)
class Proposed:
    """What was found: how many in all, what is shown of them, by what it was weighed and what could not count.

    `left_out` says why by criterion; `candidates` how many turn points there were to choose from; `notes` what else a
    person must know; `saved` the names of the tasks that were made.
    """

    set_at: str
    home: Place
    shape: ProposedShape
    start: HomeAt
    least_m: float
    most_m: float
    earth: Earth
    candidates: int
    total: int
    proposals: tuple[Proposal, ...]
    weights: Mapping[str, float]
    left_out: Mapping[str, str]
    usual: Mapping[str, float]
    """The mean value of all courses that were found, by criterion."""
    apart_m: float
    notes: tuple[str, ...]
    is_fewer: bool = False
    """Whether fewer are shown than were asked for, since no other differs enough."""
    areas: AreasTried | None = None
    saved: tuple[str, ...] = ()
    page: PageWritten | None = None
