"""What published pages say: each text in every language, with the same places to fill in, and none that nobody says."""

from __future__ import annotations

import re

import pytest

from taskdb.core.kinds import Feature, Landable, Status, TaskType
from taskdb.core.model import VALUE_FIELDS
from taskdb.report.pages.texts import Language, texts_in
from taskdb.report.pages.writing import policy

ENGLISH = texts_in(Language.EN)


@pytest.mark.parametrize("language", Language)
def test_every_text_is_there_with_the_same_places_to_fill_in(language: Language) -> None:
    texts = texts_in(language)
    assert texts.keys() == ENGLISH.keys() and all(text.strip() for text in texts.values())
    for key, text in texts.items():
        assert sorted(re.findall(r"\{\w+\}", text)) == sorted(re.findall(r"\{\w+\}", ENGLISH[key])), key


def test_every_kind_type_and_field_has_its_word() -> None:
    wanted = {f"landable_{kind}" for kind in Landable} | {f"feature_{kind}" for kind in Feature}
    wanted |= {f"type_{kind}" for kind in TaskType} | {f"field_{name}" for name in VALUE_FIELDS if name != "position"}
    wanted |= {f"status_{status}" for status in Status if status is not Status.PROPOSED}
    assert wanted <= ENGLISH.keys()


def test_a_page_is_allowed_its_own_files_and_one_origin_of_pictures() -> None:
    assert "unsafe" not in policy() and policy().startswith("default-src 'none'; ")
    rules = dict(rule.split(" ", 1) for rule in policy("data: https://tiles.example.org").split("; "))
    assert rules["img-src"] == "'self' file: data: https://tiles.example.org"
    assert {rules[what] for what in ("script-src", "style-src")} == {"'self' file:"}
    assert rules["base-uri"] == rules["form-action"] == rules["default-src"] == "'none'"
