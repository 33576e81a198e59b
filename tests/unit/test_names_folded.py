"""Names: what may name a thing, and under which keys a person finds it."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from taskdb.core.names import clean_text, code_problem, fold, fold_german, require_name, search_keys, search_words
from taskdb.errors import UsageError


@pytest.mark.parametrize(
    ("name", "plain", "german"),
    [
        ("Zürich", "zurich", "zuerich"),
        ("Große Straße", "grosse strasse", "grosse strasse"),
        ("GROẞE STRASSE", "grosse strasse", "grosse strasse"),
        ("Smørum", "smorum", "smoerum"),
        ("Łódź", "lodz", "lodz"),
        ("St. Peter-Ording", "st peter ording", "st peter ording"),
        ("Zu\u0308rich", "zurich", "zuerich"),
    ],
)
def test_a_name_has_a_plain_and_a_german_folding(name: str, plain: str, german: str) -> None:
    assert fold(name) == plain
    assert fold_german(name) == german


def test_a_name_in_another_script_keeps_a_key() -> None:
    assert fold("Ελλάδα") != ""
    assert fold("東京") == "東京"


def test_a_waypoint_is_found_under_both_spellings_and_its_code() -> None:
    assert search_words("Übersee Nord", "047") == ("047", "nord", "ubersee", "uebersee")
    assert search_keys("Hill") == ("hill",)
    assert search_keys("Hügel") == ("hugel", "huegel")


@given(st.text(max_size=40))
def test_folding_twice_is_folding_once(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=40))
def test_cleaned_text_has_no_control_characters_and_stays_clean(text: str) -> None:
    cleaned = clean_text(text)
    assert not any(ord(c) < 32 or 127 <= ord(c) < 160 for c in cleaned)
    assert clean_text(cleaned) == cleaned


@pytest.mark.parametrize("code", ["007", "EDxx", "A-1", "Ä9"])
def test_a_code_keeps_its_zeros_and_case(code: str) -> None:
    assert code_problem(code) is None


@pytest.mark.parametrize("code", ["", "A B", "A:B", "A,B", "A@1", "A=1", "-A", "A\x00", "x" * 201])
def test_a_code_that_would_confuse_a_reference_is_refused(code: str) -> None:
    assert code_problem(code) is not None


@pytest.mark.parametrize("name", ["", "   ", "a@3", "a\nb", "x" * 201])
def test_a_name_that_could_not_be_referred_to_is_refused(name: str) -> None:
    with pytest.raises(UsageError):
        require_name(name, what="set")


def test_a_colon_is_allowed_in_a_task_name_only() -> None:
    assert require_name(" A: long ", what="task", colon=True) == "A: long"
    with pytest.raises(UsageError):
        require_name("A: long", what="contest")
