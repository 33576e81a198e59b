"""Rule `short-names`: names that become one when an instrument cuts them."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity
from taskdb.core.numbers import some_of
from taskdb.core.packed_waypoints import PackedTexts


def check(survey: Survey) -> Iterator[Draft]:
    """Names become the same when accents are dropped and they are cut short.

    What: names that differ, and no longer do once they are folded to ASCII and cut to the number of characters asked
    for. A warning.

    Why it matters: on an instrument that shows so many characters the pilot picks one of two.

    How to mend: put what tells the places apart in front: "N Neustadt", not "Neustadt North".

    Trap: codes are not judged: they are unique already.

    Example: cut to 8 characters "Neustadt Nord" and "Neustadt Süd" both are "neustadt".
    """
    length = survey.given.short_name_length
    assert length is not None
    cut = PackedTexts([name[:length].rstrip() for name in survey.folded_names])
    for short, members in sorted(cut.repeated().items()):
        if short and len({survey.folded_names[index] for index in members}) > 1:
            points = tuple(survey.waypoints[index] for index in members)
            labels = some_of([f"{point.code} {point.name!r}" for point in points], 6)
            yield Draft(
                Severity.WARNING,
                points,
                f"{labels} all become {short!r} when cut to {length} characters.",
                {"short": short, "length": length, "count": len(points)},
            )


RULE = Rule(
    name="short-names",
    summary="Names become the same when accents are dropped and they are cut short.",
    function=check,
    reads=("name",),
    needs=frozenset({"short-name-length"}),
)
