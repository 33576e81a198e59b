"""An invented region and the small steps that the store's tests share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Feature, Landable, Radio, Runway, Typed, Waypoint
from taskdb.store import sets
from taskdb.store.engine import NewOperation, Store, open_store
from tests import building

AT = "2027-05-14T08:30:00Z"


def waypoint(code: str, name: str, latitude_deg: float, longitude_deg: float, **values: Any) -> Waypoint:
    """Return a waypoint whose identity follows from its first code."""
    return building.waypoint(code, name, latitude_deg, longitude_deg, **{"identity": f"id-{code}", **values})


REGION = (
    waypoint(
        "001", "Ormsau", 48.872, 11.8105, elevation_m=389.0, landable=Landable.AERODROME,
        runways=(Runway("07/25", 71.2, 850.0, 30.0, "grass"), Runway(one_way=True)),
        radio=(Radio("123.505", "launch"), Radio("122.480")),
        typed=Typed("48 52.320N", "011 48.630E", "degree-minute", 3, "389", "m"),
        extras='{"csv":{"style":"2"}}',
    ),
    waypoint("002", "Kelmried", 48.561, 11.522, elevation_m=467.1, feature=Feature.SETTLEMENT, country="DE"),
    waypoint("003", "Tannwöhr", 49.051, 12.473, description="Weir, \"Straße\" 5", inspected_on="2026-04-01"),
    waypoint("004", "Große Linde", 48.631, 12.326, source="survey"),
    waypoint("A1", "Brüxfeld Süd", 49.035, 11.579),
)  # fmt: skip


def operation(command: str = "test", **values: object) -> NewOperation:
    return NewOperation(at=AT, author="Ann", command=command, **values)  # type: ignore[arg-type]


@pytest.fixture
def store(store_url: str) -> Store:
    return open_store(store_url)


@pytest.fixture
def sample() -> tuple[Waypoint, ...]:
    return REGION


@pytest.fixture
def write(store: Store) -> Callable[..., int]:
    """Write one revision of a set in an operation of its own, making the set where it is missing."""

    def write_one(name: str, **changes: object) -> int:
        with store.writing(operation()) as w:
            head = sets.find_set(w.connection, name) or sets.create_set(w, name)
            return sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(**changes))  # type: ignore[arg-type]

    return write_one
