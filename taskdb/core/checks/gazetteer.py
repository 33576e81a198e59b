"""Settlements by name, as a list of places gives them: plain values, handed in. Computes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from taskdb.core.model import Position


class Place(NamedTuple):
    """A settlement: its usual name, the ISO 3166-1 alpha-2 code of its country or "", and about where its centre is."""

    name: str
    country: str
    position: Position


@dataclass(frozen=True, slots=True)
class Gazetteer:
    """Who made the list, in the words that its licence asks for, and its places by every folded name that they bear."""

    source: str
    by_name: Mapping[str, tuple[Place, ...]]
