"""The positions of a file's rows: two columns or one, in the notation that was decided for the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.model import E7
from taskdb.core.names import fold
from taskdb.core.notation import Axis, Decision, Notation, Trouble, decide, decide_pairs, read_column, read_pairs
from taskdb.core.notation.joined import join_cells
from taskdb.core.pasted import quoted_words
from taskdb.errors import InputError, UsageError
from taskdb.formats.text.codes import Tell
from taskdb.formats.text.headers import Assignment
from taskdb.formats.text.intake import ReadOptions
from taskdb.formats.text.parts import candidates, guess_ways, ways_to_join

_SAMPLE = 200
_MANY_ROWS = 1 << 15
"""Behind so many rows, loading numpy has paid by the end of most files."""
_AXES = (("latitude_deg", Axis.LATITUDE), ("longitude_deg", Axis.LONGITUDE))


@dataclass(frozen=True, slots=True)
class ReadPositions:
    """The positions of a batch: 1e-7 degrees, decimals as typed, and the coordinates as typed, parted by a tab.

    `by_signs`: how many rows are in another notation than the file and were read by their own signs.
    """

    latitudes_e7: Sequence[int]
    longitudes_e7: Sequence[int]
    decimals: Sequence[int]
    coordinates: Sequence[str]
    by_signs: int = 0


def told_notation(text: str | None) -> Notation | None:
    """Return the notation that a person named; UsageError with the choices for any other word."""
    if text is None:
        return None
    try:
        return Notation(text)
    except ValueError:
        raise UsageError(
            "unknown-notation", f"{text!r} is no notation.", hint=f"Notations: {', '.join(Notation)}."
        ) from None


class Positions:
    """How positions are read in one file; decided once, from a sample of its rows."""

    def __init__(
        self,
        assignment: Assignment,
        headers: Sequence[str],
        sample: Sequence[Sequence[str]],
        options: ReadOptions,
        notation: Notation | None,
    ) -> None:
        at, self.joins = assignment.columns, assignment.joins
        self.rows = 0
        """How many were read."""
        self.joint: tuple[int, ...] | None = None
        if "position" in at and not {"latitude_deg", "longitude_deg"} <= at.keys():
            join = self.joins.get("position")
            self.joint = (at["position"],) if join is None else join.columns
        wanted = notation or told_notation(options.notation)
        letter_o = _letter_o(options.letter_o) or assignment.letter_o
        if self.joint is not None:
            self.columns: tuple[int, ...] = self.joint
            texts = [" ".join(filter(None, (row[at].strip() for at in self.joint))) for row in sample]
            self.decision: Decision = decide_pairs(texts, wanted=wanted, letter_o=letter_o)
            return
        for name, _ in _AXES:
            if name not in at:
                raise _no_position(name, headers, assignment, sample[:_SAMPLE])
        self.single = {name: at[name] for name, _ in _AXES}
        self.columns = tuple(
            dict.fromkeys(
                column
                for name, _ in _AXES
                for column in (self.joins[name].columns if name in self.joins else (at[name],))
            )
        )
        columns = list(zip(*sample, strict=True)) or [()] * len(headers)
        latitudes, longitudes = (self._texts(columns, name, axis)[0] for name, axis in _AXES)
        if wanted is not None and wanted in (Notation.UTM, Notation.MGRS, Notation.GEO_URI, Notation.ISO6709):
            raise UsageError(
                "unknown-notation",
                f"{wanted.value} needs both coordinates in one column.",
                hint="Say which: --column position=HEADER.",
            )
        self.decision = decide(latitudes, longitudes, wanted=wanted, letter_o=letter_o)
        if self.decision.notation is Notation.DECIMAL and wanted is None and not options.columns:
            _require_no_dms([headers[column] for column in self.columns])

    def read(self, columns: Sequence[Sequence[str]], tell: Tell) -> ReadPositions:
        """Return the positions of a batch; what cannot be read is told."""
        if self.joint is not None:
            cells: Sequence[str] = columns[self.joint[0]]
            if len(self.joint) > 1:
                parts = zip(*(columns[at] for at in self.joint), strict=True)
                cells = [" ".join(filter(None, map(str.strip, row))) for row in parts]
            return self._read_joint(cells, tell)
        joined = [self._texts(columns, name, axis) for name, axis in _AXES]
        texts = [own for own, _ in joined]
        among_many = self.rows >= _MANY_ROWS
        self.rows += len(texts[0])
        found = [
            read_column(own, axis, self.decision, among_many=among_many)
            for own, (_, axis) in zip(texts, _AXES, strict=True)
        ]
        for reading, (own, told), (name, _) in zip(found, joined, _AXES, strict=True):
            for i, trouble in told:
                tell(i, name, " | ".join(columns[at][i] for at in self.joins[name].columns), trouble)
            apart = {i for i, _ in told}
            for i, trouble in reading.troubles:
                if i not in apart:
                    tell(i, name, own[i], trouble)
        north, east = found
        decimals = list(map(max, north.decimals, east.decimals))
        coordinates = list(map("\t".join, zip(*texts, strict=True)))
        by_signs = len({*north.by_signs, *east.by_signs})
        return ReadPositions(north.values_e7, _wrapped(east.values_e7), decimals, coordinates, by_signs)

    def _texts(
        self, columns: Sequence[Sequence[str]], name: str, axis: Axis
    ) -> tuple[list[str], list[tuple[int, Trouble]]]:
        """Return the coordinates of an axis as one text a row, and the troubles of those that cannot be joined."""
        join = self.joins.get(name)
        if join is None:
            return list(map(str.strip, columns[self.single[name]])), []
        return join_cells(join, [columns[at] for at in join.columns], axis)

    def _read_joint(self, cells: Sequence[str], tell: Tell) -> ReadPositions:
        column = read_pairs([cell.strip() for cell in cells], self.decision)
        for i, trouble in column.troubles:
            tell(i, "position", cells[i], trouble)
        pairs = column.pairs
        return ReadPositions(
            [pair.latitude_e7 for pair in pairs],
            _wrapped([pair.longitude_e7 for pair in pairs]),
            [pair.decimals for pair in pairs],
            [f"{pair.latitude}\t{pair.longitude}" for pair in pairs],
            len(set(column.by_signs)),
        )


def _wrapped(longitudes_e7: list[int]) -> list[int]:
    """Return longitudes with 180° as −180°: the canonical form has one of the two."""
    half = 180 * E7
    return (
        longitudes_e7
        if max(longitudes_e7, default=0) < half
        else [x - 2 * half if x >= half else x for x in longitudes_e7]
    )


def _letter_o(told: str | None) -> str | None:
    if told is None:
        return None
    sides = {"east": "E", "e": "E", "west": "W", "w": "W"}
    if told.lower() not in sides:
        raise UsageError("bad-side", f"{told!r} is no side.", hint="Use --letter-o east or --letter-o west.")
    return sides[told.lower()]


def _require_no_dms(headers: Sequence[str]) -> None:
    """Refuse decimals under a header that says degrees, minutes and seconds: 47.1536 may be 47°15′36″."""
    for header in headers:
        if "dms" in fold(header).split():
            raise InputError(
                "other-notation",
                f"The header {header!r} says degrees, minutes and seconds, and its cells are decimal numbers.",
                hint="Say that they are degrees with --notation decimal-degrees, else write them with ° ′ ″.",
                details={"ways": [["--notation", "decimal-degrees"]]},
            )


def _no_position(
    name: str, headers: Sequence[str], assignment: Assignment, sample: Sequence[Sequence[str]]
) -> InputError:
    free = [i for i in range(len(headers)) if i not in assignment.columns.values() or i in assignment.used()]
    ways = ways_to_join(headers, candidates(headers, assignment.seen, free))
    ways = ways or guess_ways(headers, sample, with_code=False)
    form = "--column latitude=HEADER --column longitude=HEADER, or --column position=HEADER"
    known = " or ".join(map(quoted_words, ways)) or form
    return InputError(
        "no-position",
        f"The file has no column for the {name.removesuffix('_deg')}; its columns are {', '.join(headers)}.",
        hint=f"Say which: {known}.",
        details={"columns": list(headers), "ways": ways},
    )
