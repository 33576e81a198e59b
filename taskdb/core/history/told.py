"""What an import tells of a match, and very many of them kept small."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.asked_for import AskedFor
from taskdb.core.matching.limits import FAR_APART_M
from taskdb.core.matching.match import MatchRound
from taskdb.core.packed_waypoints import PackedTexts

_AT_ONCE = 10_000
_ROUNDS = tuple(MatchRound)


@dataclass(frozen=True)
class ToldMatch:
    """A row that was matched to a standing waypoint otherwise than by code with name, or from far away.

    `distance_m` is how far the row lies from it, `moved_m` how far it moved: not at all where the row says the same
    more coarsely.
    """

    line: int
    code: str
    old_code: str
    name: str
    round: MatchRound
    distance_m: float
    moved_m: float
    is_refined: bool = False
    """It only became finer, within the rounding of what stood."""

    @property
    def is_renumbered(self) -> bool:
        return self.code != self.old_code

    @property
    def is_far_move(self) -> bool:
        return self.moved_m > FAR_APART_M


class PackedTold(AskedFor[ToldMatch]):
    """Matches that are told, some seventy bytes each."""

    __slots__ = ("_codes", "_lines", "_metres", "_names", "_old_codes", "_order", "_refined", "_rounds", "_waiting")

    def __init__(self) -> None:
        self._lines, self._metres = array("q"), array("d")
        self._codes: PackedTexts[str] = PackedTexts()
        self._old_codes: PackedTexts[str] = PackedTexts()
        self._names: PackedTexts[str] = PackedTexts()
        self._rounds, self._refined = bytearray(), bytearray()
        self._waiting: list[ToldMatch] = []
        self._order: Sequence[int] = ()

    def add(self, told: ToldMatch) -> None:
        """Add a match; all are added before one is asked for."""
        self._waiting.append(told)
        if len(self._waiting) == _AT_ONCE:
            self._pack()

    def _pack(self) -> None:
        some = self._waiting
        self._lines.extend(one.line for one in some)
        self._codes.extend([one.code for one in some])
        self._old_codes.extend([one.old_code for one in some])
        self._names.extend([one.name for one in some])
        self._rounds.extend(_ROUNDS.index(one.round) for one in some)
        for one in some:
            self._metres.extend((one.distance_m, one.moved_m))
        self._refined.extend(one.is_refined for one in some)
        some.clear()

    def by_line(self) -> PackedTold:
        """Return these, from now on in order of their lines."""
        self._pack()
        self._order = array("i", sorted(range(len(self._lines)), key=self._lines.__getitem__))
        return self

    def __len__(self) -> int:
        return len(self._order)

    def _item(self, index: int) -> ToldMatch:
        at = self._order[index]
        return ToldMatch(
            self._lines[at],
            self._codes[at],
            self._old_codes[at],
            self._names[at],
            _ROUNDS[self._rounds[at]],
            self._metres[2 * at],
            self._metres[2 * at + 1],
            bool(self._refined[at]),
        )
