"""Flight logs as they are read: the fixes of a recorder's file, its date, where its declared points are, no names.

Records as in the IGC Technical Specification for GNSS Flight Recorders, Appendix A; the layout of the B record is that
of the specification's own example in 4.2 (text of 2008), extensions and further digits from memory of 3.4 and 4.1.
"""

from __future__ import annotations

import io
import math
import pickle
import random

import pytest

from taskdb.core.flights.fixes import Log
from taskdb.core.model import Position
from taskdb.errors import InputError
from taskdb.formats.limits import LARGEST_TASK_BYTES
from taskdb.formats.registry import read_flight
from tests.flying import HEAD, Fix, Way, b_record, log, spoil, wander

EXAMPLE = "B1045334945333N01132444EA0135701501"
"""The specification's example (4.2): 10:45:33, 49°45.333′N 011°32.444′E, 1357 m pressure, 1501 m GNSS."""


def read(*lines: str, ending: str = "\r\n", last: str = "") -> Log:
    return read_flight(io.BytesIO((ending.join(lines) + (last or ending)).encode("latin-1")))


def flying(seconds: int = 200, interval_s: float = 4.0) -> list[Fix]:
    return Way((48.0, 11.0)).along(45, 30 * seconds, 30).fixes(interval_s)


@pytest.mark.parametrize("ending", ["\r\n", "\n", "\r"])
def test_the_specifications_example_is_read(ending: str) -> None:
    found = read(*HEAD, EXAMPLE, ending=ending)
    assert (found.date, len(found.track), found.problems, found.declared) == ("2027-06-14", 1, (), ())
    assert found.track.time_s[0] == 10 * 3600 + 45 * 60 + 33
    assert found.track.position(0) == Position.at(49 + 45.333 / 60, 11 + 32.444 / 60)
    assert (found.track.pressure_altitude_m[0], found.track.gnss_altitude_m[0]) == (1357, 1501)


def test_south_west_and_below_the_pressure_level_are_negative_also_in_small_letters() -> None:
    track = read(*HEAD, "B1045333330500s07030000wA-012300099").track
    assert (track.latitude_deg[0], track.longitude_deg[0]) == (-(33 + 30.5 / 60), -70.5)
    assert (track.pressure_altitude_m[0], track.gnss_altitude_m[0]) == (-123, 99)


@pytest.mark.parametrize(
    ("line", "date"),
    [
        ("HFDTE140627", "2027-06-14"),
        ("HFDTEDATE:140627,02", "2027-06-14"),
        ("HFDTE311299", "1999-12-31"),
        ("HFDTE000000", None),
        ("HFDTE310227", None),
        ("HFPLTPILOT:140627", None),
    ],
)
def test_the_date_is_that_of_the_header(line: str, date: str | None) -> None:
    found = read("AXXX001", line, EXAMPLE)
    assert found.date == date
    assert ("date" in " ".join(found.problems)) == (date is None)


def test_of_two_dates_the_first_counts_for_it_is_that_of_the_first_fix() -> None:
    assert read("AXXX001", "HFDTE140627", EXAMPLE, "HFDTE150627").date == "2027-06-14"


def test_further_digits_count_where_the_i_record_says_that_they_follow() -> None:
    # Bytes from 1: accuracy 36-38, latitude 39-40, longitude 41-42, tenths of a second 43.
    extended = "I043638FXA3940LAD4142LOD4343TDS"
    track = read(*HEAD, extended, EXAMPLE + "012" + "25" + "50" + "7").track
    assert math.isclose(track.latitude_deg[0], 49 + 45.33325 / 60, abs_tol=1e-12)
    assert math.isclose(track.longitude_deg[0], 11 + 32.4445 / 60, abs_tol=1e-12)
    assert track.time_s[0] == 38_733.7
    # A record that is too short for them has none, and neither has one with other letters in their place.
    for short in (EXAMPLE, EXAMPLE + "012" + "xx" + "5" + "y"):
        assert read(*HEAD, extended, short).track.latitude_deg[0] == 49 + 45.333 / 60


@pytest.mark.parametrize(
    "line",
    [
        "B2545334945333N01132444EA0135701501", "B1060334945333N01132444EA0135701501",
        "B1045604945333N01132444EA0135701501", "B1045339045333N01132444EA0135701501",
        "B1045334960000N01132444EA0135701501", "B1045334945333N18132444EA0135701501",
        "B1045334945333N01160444EA0135701501", "B1045334945333X01132444EA0135701501",
        "B1045334945333N01132444EZ0135701501", "B1045334945 33N01132444EA0135701501",
        "B10453349453", "B", "Bitte nicht",
    ],
)  # fmt: skip
def test_a_record_beyond_what_there_is_is_told_by_its_line_and_left_out(line: str) -> None:
    found = read(*HEAD, EXAMPLE, line, EXAMPLE.replace("104533", "104534"))
    assert len(found.track) == 2
    assert found.problems == ("1 fix record cannot be read; the first is on line 5.",)


def test_an_altitude_that_is_no_number_is_missing_alone() -> None:
    track = read(*HEAD, "B1045334945333N01132444EA     01501", "B1045344945333N01132444EA", EXAMPLE[:-3]).track
    assert len(track) == 2
    assert math.isnan(track.pressure_altitude_m[0]) and track.gnss_altitude_m[0] == 1501
    assert math.isnan(track.pressure_altitude_m[1]) and math.isnan(track.gnss_altitude_m[1])


def test_a_file_that_breaks_off_gives_what_stands_before() -> None:
    whole = log(flying())
    for cut in range(1, 38):
        found = read_flight(io.BytesIO(whole[:-cut]))
        assert len(found.track) == 51 - (cut > 12), cut
        assert bool(found.problems) == (12 < cut < 37), cut


def test_what_is_not_valid_and_what_stands_at_zero_does_not_count_and_is_told() -> None:
    fixes = flying()
    spoilt = spoil(fixes, lambda fix: fix.time_s % 8 == 0, validity="V")
    spoilt[1] = Fix(spoilt[1].time_s, 0.0, 0.0)
    found = read_flight(io.BytesIO(log(spoilt)))
    assert len(found.track) == 51 - 26 - 1
    assert [text.split(": ")[1] for text in found.problems] == ["26 of 51 fixes.", "1 of 51 fixes."]
    # The equator and Greenwich are places like others.
    assert len(read(*HEAD, "B1045330000000N01132444EA0135701501").track) == 1


def test_over_midnight_times_run_on() -> None:
    fixes = Way((48.0, 11.0), 86_400 - 100).along(45, 6_000, 30).fixes(4)
    found = read_flight(io.BytesIO(log(fixes)))
    assert found.problems == () and found.date == "2027-06-14"
    assert found.track.time_s.tolist() == [fix.time_s for fix in fixes]


def test_a_clock_that_steps_back_is_told_and_counts_again_where_it_is_later_than_before() -> None:
    fixes = flying()
    stepped = [
        fix if n < 30 else Fix(fix.time_s - 20, fix.latitude_deg, fix.longitude_deg) for n, fix in enumerate(fixes)
    ]
    found = read_flight(io.BytesIO(log(stepped)))
    assert found.problems == ("The clock steps back once, by up to 16 s.",)
    assert found.track.time_s.tolist() == [fix.time_s for n, fix in enumerate(stepped) if n < 30 or n >= 35]


@pytest.mark.parametrize("wild_s", [0.0, 3_600.0, 60_000.0, 86_399.0])
@pytest.mark.parametrize("at", [1, 25, 47])
def test_one_wild_clock_does_not_cost_the_flight(wild_s: float, at: int) -> None:
    fixes = flying()
    fixes[at] = Fix(wild_s, fixes[at].latitude_deg, fixes[at].longitude_deg)
    track = read_flight(io.BytesIO(log(fixes))).track
    assert track.time_s.tolist() == [fix.time_s for n, fix in enumerate(fixes) if n != at]


def test_the_same_second_twice_counts_once() -> None:
    found = read(*HEAD, EXAMPLE, EXAMPLE.replace("45333N", "45433N"))
    assert len(found.track) == 1 and found.track.latitude_deg[0] == 49 + 45.333 / 60
    assert found.problems == ("At the time of the fix before, and not counted: 1 of 2 fixes.",)


def test_a_file_without_fixes_is_refused() -> None:
    for content in (b"", b"code,name\n1,A\n", b"\x00" * 50, "B1045".encode("utf-16"), b"\r\n".join([b"HFDTE140627"])):
        with pytest.raises(InputError) as refused:
            read_flight(io.BytesIO(content))
        assert refused.value.code == "no-fixes" and refused.value.hint


def test_a_file_too_large_for_a_flight_is_refused_before_it_is_read() -> None:
    with pytest.raises(InputError) as refused:
        read_flight(io.BytesIO(b"B" * (LARGEST_TASK_BYTES + 1)))
    assert refused.value.code == "file-too-large"


DECLARED = (
    "C140627080000140627000101 Round",
    "C0000000N00000000E",
    "C4800000N01100000ESTART A",
    "C4830000N01130000ETURN B",
    "C4800000N01100000EFINISH A",
    "C0000000N00000000E",
)


def test_where_the_declared_points_are_is_read_and_their_names_are_not() -> None:
    found = read(*HEAD, *DECLARED, *map(b_record, flying()))
    assert found.declared == (Position.at(48, 11), Position.at(48.5, 11.5), Position.at(48, 11))
    # Of several the last before take-off counts (3.6); one that cannot be read is no hint.
    later = [line.replace("080000", "235900").replace("4830000N", "4730000N") for line in DECLARED]
    assert read(*HEAD, *DECLARED, *later, *map(b_record, flying())).declared[1] == Position.at(48.5, 11.5)
    assert read(*HEAD, *DECLARED[:-2], *map(b_record, flying())).declared == ()
    assert read(*HEAD, "C garbage", *map(b_record, flying())).declared == ()


MARKS = ("Petra Mustermann", "D-4711", "X7Y", "SERIAL99", "4711X7Y1", "secret")


def test_no_name_no_mark_and_no_number_leaves_the_reader() -> None:
    head = (
        "AXXXSERIAL99FLIGHT:1", "HFDTEDATE:140627,01", "HFPLTPILOTINCHARGE:Petra Mustermann",
        "HFCM2CREW2:Petra Mustermann", "HFGTYGLIDERTYPE:secret", "HFGIDGLIDERID:D-4711", "HFCIDCOMPETITIONID:X7Y",
        "HFRFWFIRMWAREVERSION:secret", "HFFTYFRTYPE:secret,SERIAL99",
    )  # fmt: skip
    named = [line.replace("Round", "Petra Mustermann").replace(" A", " D-4711") for line in DECLARED]
    fixes = [record + "secret" for record in map(b_record, flying())]
    found = read(*head, *named, *fixes, "LXXXsecret", "E104533PEVsecret", "Gsecret4711X7Y1", "B10 D-4711 X7Y")
    held = pickle.dumps((found.date, found.declared, found.problems)) + found.track.latitude_deg.tobytes()
    assert found.declared and found.problems
    assert not [mark for mark in MARKS if mark.encode() in held]


@pytest.mark.parametrize("seed", range(6))
def test_columns_say_what_a_loop_over_the_lines_says(seed: int) -> None:
    source = random.Random(seed)
    spots = [(source.uniform(-80, 80), source.uniform(-179, 179)) for _ in range(1)]
    spots += [(spots[0][0] + source.uniform(-0.5, 0.5), spots[0][1] + source.uniform(-0.5, 0.5)) for _ in range(2)]
    lines = log(wander(source, spots, source.choice([1.0, 2.0, 5.0, 10.0]))).decode().splitlines()
    lines.insert(source.randrange(len(lines)), "LXXX a line of another kind")
    track = read_flight(io.BytesIO("\r\n".join(lines).encode())).track
    at, days, last = 0, 0, 0
    for line in lines:
        if line[0] != "B":
            continue
        clock = int(line[1:3]) * 3600 + int(line[3:5]) * 60 + int(line[5:7])
        days, last = days + (clock < last), clock
        latitude = (int(line[7:9]) + int(line[9:14]) / 60_000) * (-1 if line[14] == "S" else 1)
        longitude = (int(line[15:18]) + int(line[18:23]) / 60_000) * (-1 if line[23] == "W" else 1)
        assert track.time_s[at] == clock + 86_400 * days
        assert abs(track.latitude_deg[at] - latitude) < 1e-9 and abs(track.longitude_deg[at] - longitude) < 1e-9
        assert (track.pressure_altitude_m[at], track.gnss_altitude_m[at]) == (int(line[25:30]), int(line[30:35]))
        at += 1
    assert at == len(track) > 100
