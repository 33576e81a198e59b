"""A radio channel is written in one way wherever it stands: in its column, in a remark, in a contest's list."""

from __future__ import annotations

from taskdb.errors import ExitCode


def test_channels_in_remarks_are_written_as_those_of_the_column(taskdb, tmp_path):
    path = tmp_path / "region.csv"
    path.write_text(
        "code;name;latitude_deg;longitude_deg;radio;remarks\n"
        "001;Ormsau;48,8720000;11,8105000;123,505 launch;Segelflug 122,480 MHz rufen\n"
        "002;Kelmried;48,5610000;11,5220000;;\n",
        encoding="utf-8",
    )
    assert taskdb("set", "import", str(path), "--into", "region").exit_code is ExitCode.DONE
    first = taskdb("waypoint", "show", "001", "--json").result()
    assert [radio["channel"] for radio in first["radio"]] == ["123.505"]
    assert first["description"] == "Segelflug 122.480 MHz rufen"
    # The same file again changes nothing.
    assert taskdb("set", "import", str(path), "--into", "region", "--json").result()["changed"] == 0
    taskdb("waypoint", "edit", "region:002", "--description", "Funk 123,505")
    assert taskdb("waypoint", "show", "002", "--json").result()["description"] == "Funk 123.505"
    taskdb("contest", "new", "Cup", "--set", "region")
    taskdb("contest", "procedure", "Cup", "--frequency", "start=122,480")
    assert "122.480" in taskdb("contest", "show", "Cup").stdout
