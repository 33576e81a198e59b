"""The closed families of words that values are made of: shapes, roles, types, states. Part of the model's vocabulary.

Apart from `model` so that the command line can offer them as choices without paying for the values.
"""

from __future__ import annotations

from enum import StrEnum


class Landable(StrEnum):
    """How far a waypoint can be landed at."""

    AERODROME = "aerodrome"
    FIELD = "field"
    EMERGENCY = "emergency"
    NO = "no"


class Feature(StrEnum):
    """What a waypoint marks in the landscape."""

    SETTLEMENT = "settlement"
    CROSSING = "crossing"
    WATER = "water"
    RELIEF = "relief"
    STRUCTURE = "structure"
    TRANSPORT = "transport"
    CONTEST_POINT = "contest-point"


class Shape(StrEnum):
    """The shapes of observation zones."""

    CYLINDER = "cylinder"
    LINE = "line"
    SECTOR = "sector"
    KEYHOLE = "keyhole"
    AREA = "area"


class Orientation(StrEnum):
    """The direction in which a sector, keyhole or line opens from its point."""

    AWAY_FROM_NEXT = "away-from-next"
    BISECTOR = "bisector"
    AWAY_FROM_PREVIOUS = "away-from-previous"
    TOWARDS_NEXT = "towards-next"
    TOWARDS_PREVIOUS = "towards-previous"
    BEARING = "bearing"


class Role(StrEnum):
    """What a point is in its task."""

    START = "start"
    TURN = "turn"
    AREA = "area"
    FINISH = "finish"


class TaskType(StrEnum):
    RACING = "racing"
    ASSIGNED_AREA = "assigned-area"
    MODIFIED = "modified"
    DECLARED = "declared"


class Status(StrEnum):
    """Where a task stands in its day."""

    PROPOSED = "proposed"
    ISSUED = "issued"
    REPLACED = "replaced"
    CANCELLED = "cancelled"
    FLOWN = "flown"


class ZoneFrom(StrEnum):
    """Where a point's zone came from: the defaults of its class, its day or its contest, built in, or set by hand."""

    CLASS = "class"
    DAY = "day"
    CONTEST = "contest"
    BUILT_IN = "built-in"
    OWN = "own"


class Earth(StrEnum):
    """The model on which lengths are measured."""

    WGS84 = "wgs84"
    FAI_SPHERE = "fai-sphere"


class LegalEnd(StrEnum):
    """When a contest says that its flying day ends."""

    SUNSET = "sunset"
    SUNSET_30 = "sunset+30min"
    CIVIL_DUSK = "civil-dusk"


DEFAULT_LEGAL_END = LegalEnd.SUNSET
"""The earliest of them: a contest sets the one that the law of its country gives (common practice, no source)."""


class Deduction(StrEnum):
    """How a cylinder at the start or finish counts: to its centre, or its radius comes off its leg."""

    TO_CENTRE = "to-centre"
    LESS_RADIUS = "less-radius"


class Severity(StrEnum):
    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class ShapeKind(StrEnum):
    """The shape of a course."""

    GOAL = "goal"
    DOG_LEG = "dog-leg"
    OUT_AND_RETURN = "out-and-return"
    TRIANGLE = "triangle"
    MULTI_TURN = "multi-turn"


class ProposedShape(StrEnum):
    """The shapes of courses that are searched for in a set."""

    FAI_TRIANGLE = "fai-triangle"
    OUT_AND_RETURN = "out-and-return"
    TRIANGLE = "triangle"
    QUADRILATERAL = "quadrilateral"


class HomeAt(StrEnum):
    """Where home lies on a triangle: at one of its corners, or on the side between two of its three turn points."""

    CORNER = "corner"
    SIDE = "side"
