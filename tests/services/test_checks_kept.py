"""What the checks of a set say of a task's points is kept by the values that were checked, and only by them."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.files import cache as cache_file
from taskdb.services.checks import check, kept
from taskdb.services.checks.accepting import Which, accept_findings
from taskdb.services.checks.check import CheckRequest, check_set
from taskdb.services.checks.kept import open_findings
from taskdb.services.references import resolve_set
from taskdb.services.sets.importing import ImportRequest, import_set
from tests.services.conftest import REGION

FAULTY = REGION + "006,Ormsau,48.8721000,11.8106000,389\n007,Kelmried,0.0000000,0.0000000,467\n"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("TASKDB_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def region(desk, write, csv_file, folder):
    import_set(desk, ImportRequest(csv_file(FAULTY), "region"), write())
    return desk


def asked(desk):
    with desk.store.reading() as c:
        return open_findings(c, resolve_set(c, "region"))


def unchecked(*_given, **_how):
    raise AssertionError("the set was checked again")


def test_what_is_kept_is_what_the_checks_say(region):
    said = [f for f in check_set(region, CheckRequest("region")).findings if f.severity.value != "note"]
    for _ in range(2):
        assert [(f.id, f.rule, f.severity, f.codes, f.message) for f in asked(region)] == [
            (f.id, f.rule, f.severity, f.codes, f.message) for f in said
        ]
    assert len(said) >= 2


def test_an_unchanged_set_is_not_checked_again_and_a_changed_one_is(region, write, csv_file, monkeypatch):
    first = asked(region)
    with monkeypatch.context() as patched:
        patched.setattr(check, "run_alone", unchecked)
        assert asked(region) == first
    import_set(region, ImportRequest(csv_file("007,Kelmried,48.5000000,11.6000000,467\n"), "region"), write())
    monkeypatch.setattr(check, "run_alone", unchecked)
    with pytest.raises(AssertionError, match="checked again"):
        asked(region)


def test_other_rules_or_other_shipped_data_check_anew(region, monkeypatch):
    asked(region)
    monkeypatch.setattr(check, "run_alone", unchecked)
    monkeypatch.setattr(kept, "_made_by", lambda: (("slips.py", 1, 1),))
    with pytest.raises(AssertionError, match="checked again"):
        asked(region)


def test_what_is_accepted_is_told_no_more_though_nothing_is_checked_again(region, write, monkeypatch):
    before = asked(region)
    accept_findings(region, CheckRequest("region"), Which(ids=(before[0].id,)), "known", write())
    monkeypatch.setattr(check, "run_alone", unchecked)
    assert asked(region) == before[1:]


SPOILT = (
    b"", b"[[1]]", b"\xff\xfe", b'[["a","b","no severity",["c"],"d"]]', b"{}x", b"{}", b'""', b"[" * 100_000,
    b'[[[],"b","error",["c"],"d"]]', b'[["a","b","error","c","d"]]', b'[["a","b","error",["c"],5]]',
    b'[["a","b","error",["c"],"\\ud800"]]',
)  # fmt: skip


@pytest.mark.parametrize("spoilt", SPOILT, ids=range(len(SPOILT)))
def test_a_spoilt_answer_is_checked_anew(region, folder, spoilt):
    first = asked(region)
    (file,) = folder.iterdir()
    file.write_bytes(spoilt)
    assert asked(region) == first
    assert file.read_bytes() != spoilt


def test_without_a_cache_the_answer_is_the_same(region, folder, monkeypatch):
    first = asked(region)
    monkeypatch.setenv("TASKDB_CACHE", "off")
    assert asked(region) == first
    Path(folder.parent / "file").write_text("")
    monkeypatch.setenv("TASKDB_CACHE", str(folder.parent / "file"))
    assert asked(region) == first


def test_only_so_many_answers_are_kept(folder, monkeypatch):
    monkeypatch.setattr(cache_file, "MOST_KEPT", 3)
    for number in range(5):
        cache_file.cache(f"answer-{number}", b"x")
        if number == 2:
            assert cache_file.cached("answer-0") == b"x"
    assert sum(cache_file.cached(f"answer-{number}") is not None for number in range(5)) == 3
