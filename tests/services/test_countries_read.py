"""Countries at intake: by their two letters however they are written; what is none stays, and both are told."""

from __future__ import annotations

from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.sets.set import show_set

HEADER = "code,name,latitude_deg,longitude_deg,country"


def test_countries_are_kept_by_their_two_letters_and_told(desk, write, csv_file):
    rows = ["A,a,48.1,11.1,Germany", "B,b,48.2,11.2,Deutschland", "C,c,48.3,11.3,DEU", "D,d,48.4,11.4,DE",
            "E,e,48.5,11.5,Bayern", "F,f,48.6,11.6,", "G,g,48.7,11.7,Germany"]  # fmt: skip
    path = csv_file("\n".join(rows), HEADER)
    done = import_set(desk, ImportRequest(path, "region"), write())
    assert [w.country for w in show_set(desk, "region").waypoints] == ["DE", "DE", "DE", "DE", "Bayern", None, "DE"]
    assert "countries by their two letters in 4 rows: Germany as DE, DEU as DE, Deutschland as DE" in done.decided.notes
    assert "no countries that are known, and kept as they are, in 1 row: 'Bayern'" in done.decided.notes
    again = import_set(desk, ImportRequest(csv_file("A,a,48.1,11.1,Allemagne", HEADER), "region"), write())
    assert (again.changed, again.unchanged) == (0, 1)


def test_two_letters_are_no_matter_to_tell(desk, write, csv_file):
    done = import_set(desk, ImportRequest(csv_file("A,a,48.1,11.1,DE", HEADER), "region"), write())
    assert not any("countr" in note for note in done.decided.notes)
