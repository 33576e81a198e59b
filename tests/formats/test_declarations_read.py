"""Declarations of flight recorders as they are read: both ways of naming points, areas, several in one file."""

from __future__ import annotations

import io

import pytest

from taskdb.core.model import Position, Role
from taskdb.errors import InputError, UsageError
from taskdb.formats.registry import TaskReading, read_tasks

# IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008), section 9, as it stands there.
EXAMPLE = """\
C150701213841160701000102 500K Tri
C5111359N00101899W Lasham Clubhouse
C5110179N00102644W Lasham Start S, Start
C5209092N00255227W Sarnesfield, TP1
C5230147N00017612W Norman Cross, TP2
C5110179N00102644W Lasham Start S, Finish
C5111359N00101899W Lasham Clubhouse
"""


def read(text: str, ending: str = "\r\n") -> TaskReading:
    (reading,) = read_tasks(io.BytesIO(text.replace("\n", ending).encode("cp1252")))
    return reading


@pytest.mark.parametrize(
    "head", ["", "AXXX001 anything\n", "AXXXABCFLIGHT:1\nHFDTEDATE:160701,01\nHFDTM100GPSDATUM:WGS84\n"]
)
@pytest.mark.parametrize("ending", ["\r\n", "\n"])
def test_the_specifications_example_is_read(head: str, ending: str) -> None:
    reading = read(head + EXAMPLE, ending)
    assert reading.problems == ()
    assert (reading.format, reading.name) == ("igc", "500K Tri")
    assert (reading.declared_at, reading.flight_date) == ("2001-07-15T21:38:41Z", "2001-07-16")
    assert [(p.role, p.name) for p in reading.points] == [
        (Role.START, "Lasham Start S"),
        (Role.TURN, "Sarnesfield"),
        (Role.TURN, "Norman Cross"),
        (Role.FINISH, "Lasham Start S"),
    ]
    # 51°10.179′ N 001°02.644′ W = 51.16965, -1.04406667 (computed).
    assert reading.points[0].position == Position.at(51.16965, -1.0440667)
    assert reading.take_off is not None and reading.take_off.name == "Lasham Clubhouse"
    assert reading.landing is not None and reading.landing.position == Position.at(51 + 11.359 / 60, -1 - 1.899 / 60)


def test_the_illustrated_form_puts_the_kind_before_the_name() -> None:
    # 3.6, the illustration of the format: TAKEOFF, START, TURN … at the beginning of the text.
    reading = read(
        "C150701213841000000000102\n"
        "C0000000N00000000ETAKEOFF\n"
        "C5110179N00102644WSTART Lasham Start S\n"
        "C5209092n00255227wTURN Sarnesfield\n"
        "C5230147N00017612W TURN POINT Norman Cross\n"
        "C5110179N00102644WFINISH\n"
        "C00000000N000000000ELANDING\n"
    )
    # 3.6.3: an unknown place is zeros; the prose prints two more of them than the table of fields.
    assert reading.problems == () and reading.take_off is None and reading.landing is None
    assert reading.flight_date is None and reading.name == ""
    assert [p.name for p in reading.points] == ["Lasham Start S", "Sarnesfield", "Norman Cross", ""]


def test_an_area_is_read_with_its_radii_and_its_true_bearings() -> None:
    # 3.6.5: 0012000 0032000 122000 182000 = 12 to 32 km, 122° to 182° true, clockwise.
    reading = read(
        "C150701213841160701ABCD02 Areas\n"
        "C0000000N00000000E\n"
        "C5110179N00102644WSTART A\n"
        "C5209092N00255227W00120000032000122000182000Sarnesfield AREA\n"
        "C5230147N00017612W00000000020500000000360000AREA Norman Cross\n"
        "C5110179N00102644WFINISH A\n"
        "C0000000N00000000E\n"
    )
    first, second = (p.zone for p in reading.points[1:3])
    assert first is not None and second is not None
    assert (first.inner_radius_m, first.radius_m, first.from_radial_deg, first.to_radial_deg) == (12e3, 32e3, 122, 182)
    assert (second.text, second.radius_m, second.from_radial_deg) == ("area 20.5km", 20_500.0, None)
    assert [p.role for p in reading.points] == [Role.START, Role.AREA, Role.AREA, Role.FINISH]
    assert reading.points[2].name == "Norman Cross"


def declaration(clock: str, name: str) -> str:
    return EXAMPLE.replace("213841", clock).replace("150701", "160701", 1).replace("500K Tri", name)


def fixes(*minutes: tuple[int, float]) -> str:
    """Return a fix for each minute after 09:00 with its latitude minutes north of 51°."""
    return "".join(f"B09{m:02d}0051{round(north * 1000):05d}N00102644WA0013500150\n" for m, north in minutes)


def test_of_several_declarations_the_last_before_take_off_counts() -> None:
    # 3.6, table: the last declaration before take-off is the definitive one.
    standing, flying = [(m, 10.179) for m in range(12)], [(m, 10.179 + (m - 11)) for m in range(12, 20)]
    head = "AXXX001\nHFDTE160701\n"
    text = head + declaration("080000", "early") + declaration("090500", "last") + declaration("093000", "late")
    reading = read(text + fixes(*standing, *flying))
    assert reading.name == "last" and "2001-07-16 09:05:00" in reading.notes[0]
    # In the order of the file they may stand as they like: their times decide.
    shuffled = head + declaration("093000", "late") + declaration("090500", "last") + declaration("080000", "early")
    assert read(shuffled + fixes(*standing, *flying)).name == "last"
    # Without a flight the last one counts, and it is said that nothing told the take-off.
    assert read(text).name == "late" and "no fixes" in read(text).notes[0]
    assert read(text + fixes(*standing)).name == "late"


def test_a_file_whose_declarations_all_came_too_late_is_refused() -> None:
    flying = [(m, 10.179 + m) for m in range(8)]
    text = "AXXX001\nHFDTE160701\n" + declaration("093000", "a") + declaration("100000", "b")
    with pytest.raises(InputError) as refused:
        read(text + fixes(*flying))
    assert refused.value.code == "declared-too-late"


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("000102 500K", "000103 500K", "count-differs"),
        ("C5209092N", "C5260092N", "out-of-range"),
        ("C5209092N", "C9109092N", "out-of-range"),
        ("C5209092N00255227W", "C5209092N0025522", "bad-point"),
        ("C5209092N00255227W", "C0000000N00000000E", "missing-value"),
        ("C5209092N00255227W", "C5209092N00255227W00320000012000122000182000", "bad-zone"),
        ("C150701213841160701000102 500K Tri\n", "", "no-header"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(old: str, new: str, code: str) -> None:
    reading = read("AXXX001\nHFDTE160701\n" + EXAMPLE.replace(old, new))
    assert code in [problem.code for problem in reading.problems]
    assert all(3 <= problem.line <= 9 for problem in reading.problems)


def test_a_flight_without_a_declaration_and_an_unknown_format_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        read("AXXX001\nHFDTE160701\n" + fixes((1, 10.0)))
    assert refused.value.code == "no-tasks"
    with pytest.raises(UsageError):
        read_tasks(io.BytesIO(b"x"), format="doc")
