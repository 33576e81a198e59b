"""A log's file name is shown only where it does not say who flew, in what, or with which recorder."""

from __future__ import annotations

import pytest

from taskdb.formats.recorder.whose import may_say_whose

HEAD = (
    b"AXXXK7J invented\r\nHFPLTPILOTINCHARGE:Anna Zarathustra-Quill\r\n"
    b"HFGIDGLIDERID:D-9Q71\r\nHPCIDCOMPETITIONID:QX7\r\n"
)


@pytest.mark.parametrize(
    "name",
    [
        "76EXK7J1.IGC",  # short form: year, month, day, maker, three signs of the number, flight
        "7cvxabc2.igc",
        "2027-06-14-XXX-K7J-02.igc",  # long form
        "20270614-xxx-000123.igc",
        "D-1234.igc", "HB-3021 day 2.igc", "flight_g-ckab.igc", "N123AB.igc",  # marks of other gliders
        "QX7.igc", "XY.igc", "57M.igc",  # competition signs
        "zarathustra 1.igc", "day1_ZarathustraQuill.igc", "Quill.IGC",  # the pilot of the header
        "d9q71-2.igc", "best of 9Q71.igc", "k7j.igc",  # its glider and recorder
    ],
)  # fmt: skip
def test_a_name_that_may_tell_is_not_shown(name):
    assert may_say_whose(name, HEAD)


@pytest.mark.parametrize(
    "name", ["1.igc", "flight-01.igc", "second flight.igc", "2027-06-14-a.igc", "2027-06-14.igc", "a.IGC", "training"]
)
def test_a_name_that_tells_nothing_is_shown(name):
    assert not may_say_whose(name, HEAD)


def test_headers_without_a_colon_and_bytes_that_are_no_text_are_read():
    assert may_say_whose("zarathustra.igc", b"HFPLTZarathustra\r\n")
    assert not may_say_whose("some.igc", bytes(range(256)) * 10)


@pytest.mark.parametrize("encoding", ["utf-8", "latin-1"])
@pytest.mark.parametrize("name", ["müller 2.igc", "mueller.igc", "muller.igc", "Müllerin.igc"])
def test_signs_on_letters_hide_no_name(name, encoding):
    assert may_say_whose(name, "HFPLTPILOT:J. Müller\r\n".encode(encoding))


def test_three_digits_of_a_recorder_are_in_many_a_name():
    assert not may_say_whose("flight001.igc", b"AXXX001 invented\r\n")
    assert may_say_whose("flight0012.igc", b"AXXX0012\r\n")
