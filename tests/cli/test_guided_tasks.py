"""`task new --guided`: keys, the screen at any width, and a whole task put together on a pseudo terminal."""

from __future__ import annotations

import json
import os
import re
import select
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from taskdb.cli.render.console import display_width
from taskdb.cli.render.guided import Guided, screen_lines
from taskdb.cli.tasks.guided import pressed
from taskdb.cli.tasks.guided_keys import Key, split_keys
from taskdb.core.quantities import Units
from taskdb.errors import ExitCode, RefusedError
from taskdb.services.desk import Desk
from taskdb.services.tasks.building import NewTask, draft_task

ROOT = Path(__file__).parents[2]


@pytest.fixture
def region(built):
    return built(("set", "import", str(ROOT / "demo/region.csv"), "--into", "region"))


@pytest.fixture
def desk(region, store_address):
    return Desk(store_address, "librarian")


def begun(desk, **given):
    request = NewTask("A", (), set_reference="region", **given)
    return Guided(request, draft_task(desk, request))


def typed(desk, state, *keys):
    for word in keys:
        for key in [word] if word in list(Key) else word:
            state = pressed(desk, state, key)
    return state


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        ("ab", ["a", "b"]),
        ("ä\r", ["ä", Key.ENTER]),
        # ECMA-48: cursor up CUU = CSI A, cursor down CUD = CSI B; ESC O A in application cursor mode (from memory).
        ("\x1b[A\x1bOB", [Key.UP, Key.DOWN]),
        ("\x1b", [Key.ESCAPE]),
        ("\x1bx", [Key.ESCAPE, "x"]),
        ("\x1b[1;5Cx", ["x"]),
        ("\x1b[", []),
        ("\x7f\x08\t", [Key.BACKSPACE, Key.BACKSPACE, Key.TAB]),
        ("\x00\x07", []),
    ],
)
def test_what_a_terminal_sends_is_read_as_keys(sent, keys):
    assert split_keys(sent) == keys


def test_typing_searches_and_enter_takes_the_chosen_hit(desk):
    state = typed(desk, begun(desk), "orm")
    assert state.hits[0].code == "001" and state.total > len(state.hits)
    down = typed(desk, state, Key.DOWN, Key.ENTER)
    assert [p.reference for p in down.points] == [state.hits[1].code]
    round_about = typed(desk, state, Key.UP, Key.ENTER)
    assert [p.reference for p in round_about.points] == [state.hits[-1].code]
    assert down.text == "" and down.hits == ()


def test_a_zone_follows_its_point_and_distance_and_shape_grow(desk):
    state = typed(desk, begun(desk), "001", Key.ENTER, "004", Key.ENTER)
    first = state.draft.course.distances.task_m
    state = typed(desk, state, "area 20km", Key.ENTER, "003", Key.ENTER, Key.TAB)
    assert [p.reference for p in state.points] == ["001", "004", "003", "001"]
    assert state.points[1].zone.text == "area 20km"
    assert state.draft.task.type == "assigned-area"
    assert state.draft.course.distances.task_m > 2 * first
    assert typed(desk, state, Key.ENTER).is_done


def test_backspace_takes_letters_then_the_zone_then_the_point(desk):
    state = typed(desk, begun(desk), "001", Key.ENTER, "004", Key.ENTER, "cylinder 5km", Key.ENTER, "xy")
    state = typed(desk, state, Key.BACKSPACE)
    assert state.text == "x"
    state = typed(desk, state, Key.BACKSPACE, Key.BACKSPACE)
    assert [p.zone for p in state.points] == [None, None]
    state = typed(desk, state, Key.BACKSPACE, Key.BACKSPACE, Key.BACKSPACE)
    assert state.points == ()


def test_what_cannot_be_taken_is_said_and_nothing_is_lost(desk):
    state = typed(desk, begun(desk), "area 20km", Key.ENTER)
    assert "there is none yet" in state.said
    state = typed(desk, begun(desk), "001", Key.ENTER, Key.ENTER)
    assert "start and a finish" in state.said and len(state.points) == 1
    state = typed(desk, state, "qqq", Key.ENTER)
    assert "no waypoint 'qqq'" in state.said and len(state.points) == 1
    state = typed(desk, state, Key.ESCAPE, "area 20", Key.ENTER)
    assert "20" in state.said and state.text == "area 20"
    state = typed(desk, state, Key.ESCAPE, "48.9,12.0", Key.ENTER)
    assert len(state.points) == 2 and state.draft.places[1].identity is None
    with pytest.raises(RefusedError):
        typed(desk, state, Key.ESCAPE)


@pytest.fixture
def cup(region):
    region("contest", "new", "Cup", "--set", "region", "--site", "002", "--timezone", "Europe/Berlin")
    region("contest", "day", "Cup", "1", "--date", "2027-05-14", "--start-opens", "13:15", "--speed", "95km/h")
    return region


def in_cup(desk, **given):
    request = NewTask("A", (), contest="Cup", day=1, **given)
    return Guided(request, draft_task(desk, request))


def test_tab_takes_the_site_for_a_finish(desk, cup):
    state = typed(desk, in_cup(desk), "001", Key.ENTER, Key.TAB)
    assert [p.reference for p in state.points] == ["001", "002"]
    # The site is where a day begins, too; there is no way from the site to the site.
    state = typed(desk, in_cup(desk), Key.TAB)
    assert state.points == () and "002" in state.said
    state = typed(desk, in_cup(desk), "002", Key.ENTER, Key.TAB)
    assert len(state.points) == 1 and "no way" in state.said
    assert any("Tab: to the site 002" in line for line in screen(typed(desk, in_cup(desk), "001", Key.ENTER)))
    # Without a contest it is the start.
    state = typed(desk, begun(desk), "001", Key.ENTER, "004", Key.ENTER, Key.TAB)
    assert [p.reference for p in state.points] == ["001", "004", "001"]


def screen(state, width=120, height=40):
    return screen_lines(state, width=width, height=height, units=Units.KM, color=False)


def test_areas_times_and_warnings_grow_as_task_show_has_them(desk, cup):
    cup("task", "new", "Z", "002", "004", "003", "002", "--contest", "Cup")
    state = typed(desk, in_cup(desk, time_s=10_800), "002", Key.ENTER, "004", Key.ENTER, "area 20km", Key.ENTER)
    state = typed(desk, state, "003", Key.ENTER, "area 15km", Key.ENTER, Key.TAB)
    seen = screen(state)
    words = '002 004 "area 20km" 003 "area 15km" 002 --contest Cup --day 1 --time 3:00 --json'
    made = cup("task", "new", "A", *shlex.split(words)).result()
    distance, time = made["distance"], made["time"]["speed_kmh"]
    (figures,) = [line for line in seen if line.startswith("task distance")]
    assert f"{distance['minimum_m'] / 1000:.1f} km to {distance['maximum_m'] / 1000:.1f} km" in figures
    assert f"minimum time 3:00, {time['minimum']:.1f} km/h to {time['maximum']:.1f} km/h" in figures
    sheet = made["day_sheet"]
    times = [line for line in seen if line.startswith("times over the")]
    assert len(times) == len(sheet["flights"]) == 3
    for line, flight in zip(times, sheet["flights"], strict=True):
        assert flight["extent"] in line and all(point["at"] in line for point in flight["points"][1:])
    assert f"last expected finish {sheet['last_finish']['at']}" in seen
    assert made["findings"] and {f["message"] for f in made["findings"]} <= {
        message for line in seen for message in [line.partition(": ")[2].rpartition(" [")[0]]
    }


@pytest.mark.parametrize(("width", "height"), [(80, 24), (140, 50), (40, 12)])
def test_the_screen_fits_at_any_size(desk, width, height):
    state = begun(desk)
    for code in ("001", "004", "003", "002", "005", "006", "007", "001"):
        state = typed(desk, state, code, Key.ENTER)
    for at in (begun(desk), state, typed(desk, state, "st"), typed(desk, state, "area 20km")):
        lines = screen_lines(at, width=width, height=height, units=Units.KM, color=False)
        assert len(lines) <= height
        assert all(display_width(line) <= width for line in lines)
    assert any(line.startswith("task distance") for line in lines)


def test_the_chosen_hit_is_marked_by_a_sign(desk):
    state = typed(desk, begun(desk), "orm", Key.DOWN)
    lines = screen_lines(state, width=80, height=24, units=Units.KM, color=False)
    assert [line for line in lines if line.startswith("> ")] == [f"> {state.hits[1].code}  {state.hits[1].name}"]


def test_without_a_terminal_it_is_refused_with_the_way_out(region):
    done = region("task", "new", "A", "--guided", "--set", "region")
    assert done.exit_code is ExitCode.REFUSED
    assert "taskdb task new A POINT" in done.stderr


def test_a_name_that_is_taken_is_told_before_anything_is_typed(desk, region):
    region("task", "new", "A", "001", "002", "--set", "region")
    with pytest.raises(RefusedError):
        begun(desk)


class Terminal:
    """A process on a pseudo terminal: its standard input and error are one, its standard output a pipe."""

    def __init__(self, *args: str) -> None:
        import fcntl
        import pty
        import struct
        import termios

        def on_the_terminal() -> None:
            # Only from its controlling terminal does a process get the keyboard's interrupt, and not where it inherits
            # that it is ignored, as from a shell that runs the tests in the background.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        self.ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 100, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "taskdb", *args],
            stdin=theirs,
            stderr=theirs,
            stdout=subprocess.PIPE,
            start_new_session=True,
            preexec_fn=on_the_terminal,
        )
        os.close(theirs)
        self.seen = ""

    def until(self, text: str, seconds: float = 60) -> None:
        """Read the screen until it holds a text."""
        begun = time.monotonic()
        while text not in self.seen:
            assert time.monotonic() - begun < seconds, f"no {text!r} in {self.seen[-2000:]!r}"
            if select.select([self.ours], [], [], 0.5)[0]:
                try:
                    self.seen += re.sub(r"\x1b\[[?0-9;]*[A-Za-z]", "", os.read(self.ours, 65536).decode("utf-8"))
                except OSError:
                    break

    def send(self, text: str) -> None:
        self.seen = ""
        os.write(self.ours, text.encode())

    def end(self) -> tuple[int, str]:
        try:
            out = self.process.communicate(timeout=60)[0].decode()
        finally:
            self.process.kill()
            os.close(self.ours)
        return self.process.returncode, out


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are a matter of POSIX")
def test_a_task_is_put_together_on_a_terminal(region):
    there = Terminal("task", "new", "A", "001", "--guided", "--set", "region", "--time", "3:00", "--json")
    there.until("point 1:")
    there.send("greif")
    there.until("> 004")
    # Typed ahead in one go: nothing of it may be lost.
    there.send("\rarea 20km\r003\r\t")
    there.until("FAI triangle")
    there.send("\r")
    code, out = there.end()
    assert code == ExitCode.DONE
    result = json.loads(out)["result"]
    assert [p["code"] for p in result["points"]] == ["001", "004", "003", "001"]
    assert result["points"][1]["zone"]["text"] == "area 20km"
    assert region("task", "show", "A", "--json").result()["fingerprint"] == result["fingerprint"]


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are a matter of POSIX")
@pytest.mark.parametrize(("key", "expected"), [("\x1b", ExitCode.REFUSED), ("\x03", ExitCode.INTERRUPTED)])
def test_leaving_makes_nothing(region, key, expected):
    there = Terminal("task", "new", "A", "--guided", "--set", "region")
    there.until("point 0:")
    there.send("001\r")
    there.until("point 1:")
    there.send(key)
    code, _ = there.end()
    assert code == expected
    assert region("task", "list", "--json").result()["total"] == 0
