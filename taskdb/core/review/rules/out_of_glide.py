"""Review rule `out-of-glide`: stretches of the course from which no field is in reach."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.judgement.cover import Cover, Stretch
from taskdb.core.judgement.glide import SAID
from taskdb.core.model import Severity
from taskdb.core.numbers import counted
from taskdb.core.plain import metres, or_none
from taskdb.core.review.rule import Draft, Reviewed, Rule

_MOST_TOLD = 3


def check(given: Reviewed) -> Iterator[Draft]:
    """From parts of the course no landable place is in reach of a straight glide from the working altitude.

    What: at each whole kilometre of each leg, and at the finish, the field that a straight glide arrives over highest:
    glide ratio, airspeed and the wind of the day, from the working altitude, with the height to spare that is asked
    for. Stretches without one, with their length and the fields nearest to them. With terrain the glide has to clear
    the ground on its way. A warning where a stretch is longer than the contest's limit (5 km unless it says otherwise),
    else a note. It is looked at where the contest has a glide ratio and a working altitude, or the command gives them.

    Why it matters: whoever loses height there lands where nobody has looked at the ground.

    How to mend: another turn point, a later start of the day (a higher working altitude), or look for fields there and
    put them into the set. `taskdb task cover NAME` shows it kilometre by kilometre, `--to FILE.svg` as a picture.

    Trap: a figure and no promise. Straight glide, constant wind, no sink, no circuit, fields as last inspected. Without
    terrain nothing is known of mountains: figures are withheld where the coarse grid's relief passes 300 m, and what
    is out of reach over flat ground is out of reach all the more. Fields without elevation are left out.

    Example: No field is in reach on 2 stretches: from km 120.0 to km 134.0 (nearest FLD3 31.2 km, AIRF 33.0 km); at km
    171.0 (nearest AIRF 30.1 km). Reckoned with 1 in 25 at 100 km/h in wind 240°/15 kt, from 1500m MSL, arriving 200 m
    over the field.
    """
    cover = given.cover
    if cover is None or not cover.stretches:
        return
    longest_m = cover.longest_out_m or 0.0
    severity = Severity.WARNING if longest_m > given.limits.cover_longest_out_m else Severity.NOTE
    yield Draft(
        severity,
        (),
        f"{_told(cover)}. Reckoned with {cover.terms.words}. {SAID}",
        _evidence(given, cover),
        _read(cover),
    )


def _told(cover: Cover) -> str:
    stretches = sorted(cover.stretches, key=lambda one: (-one.length_m, one.from_m))
    told = [_stretch_words(stretch) for stretch in stretches[:_MOST_TOLD]]
    if len(stretches) == 1:
        return f"No field is in reach {told[0]}"
    which = f", the {_MOST_TOLD} longest" if len(stretches) > _MOST_TOLD else ""
    return f"No field is in reach on {counted(len(stretches), 'stretch', 'stretches')}{which}: {'; '.join(told)}"


def _stretch_words(stretch: Stretch) -> str:
    nearest = ", ".join(f"{code} {distance / 1000:.1f} km" for code, distance in stretch.nearest[:2])
    where = f"from km {stretch.from_m / 1000:.1f} to km {stretch.to_m / 1000:.1f}"
    if stretch.samples == 1:
        where = f"at km {stretch.from_m / 1000:.1f}"
    return f"{where} (nearest {nearest})" if nearest else where


def _evidence(given: Reviewed, cover: Cover) -> dict[str, object]:
    terms = cover.terms
    return {
        "stretches": [
            {
                "from_m": metres(stretch.from_m),
                "to_m": metres(stretch.to_m),
                "samples": stretch.samples,
                "nearest": [code for code, _ in stretch.nearest],
            }
            for stretch in cover.stretches
        ],
        "out_of_reach": cover.out_of_reach,
        "samples": len(cover.samples),
        "withheld": cover.withheld,
        "longest_out_m": or_none(metres, cover.longest_out_m),
        "limit_m": metres(given.limits.cover_longest_out_m),
        "left_out": list(cover.left_out),
        "ground": cover.ground.value,
        "glide": terms.glide.ratio,
        "airspeed_kmh": round(terms.glide.airspeed_kmh, 4),
        "wind": {"from_deg": terms.glide.wind.from_deg, "speed_kmh": round(terms.glide.wind.speed_kmh, 4)},
        "working_altitude": terms.working_text,
        "safety_m": metres(terms.safety_m),
    }


def _read(cover: Cover) -> tuple[object, ...]:
    """Return what makes another finding: the glide, where it starts out of reach, and the fields nearest there."""
    terms = cover.terms
    glide = (f"{terms.glide.ratio:g}", terms.glide.airspeed_kmh, terms.glide.wind.from_deg, terms.glide.wind.speed_kmh)
    heights = (terms.working_m, terms.is_above_ground, terms.safety_m, terms.clearance_m, terms.free_m)
    places = tuple(sample.position for sample in cover.samples if sample.is_reached is False)
    return (glide, heights, cover.ground.value, places, tuple(stretch.nearest for stretch in cover.stretches))


RULE = Rule("out-of-glide", "From parts of the course no field is in reach of a straight glide.", check)
