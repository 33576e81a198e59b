"""Countries as people write them, against the Unicode CLDR (Babel's copy) and ISO 3166-1 (pycountry's copy)."""

from __future__ import annotations

import pycountry
import pytest
from babel import Locale

from taskdb.reference.countries import DATA, country_code, known_countries
from tests.reference.make_countries import LEFT_OUT, is_short, lines


def test_the_shipped_file_is_what_the_cldr_gives() -> None:
    assert DATA.read_text(encoding="utf-8").splitlines() == lines()


def test_every_country_of_iso_3166_by_its_letters_and_no_others() -> None:
    codes = {line[:2] for line in DATA.read_text(encoding="utf-8").splitlines()}
    assert codes == {country.alpha_2 for country in pycountry.countries} | {"XK"}
    for country in pycountry.countries:
        for text in (country.alpha_2, country.alpha_3, country.alpha_2.lower(), f" {country.alpha_3.lower()} "):
            assert country_code(text) == country.alpha_2
    for text in ("XX", "ZZ", "EU", "XXX", "D", "", "?", "Bavaria", "US-CA", "Kongo"):
        assert country_code(text) is None


def test_no_name_of_iso_3166_is_read_as_another_country() -> None:
    missed = []
    for country in pycountry.countries:
        for text in {country.name, getattr(country, "common_name", country.name)}:
            found = country_code(text)
            assert found in (None, country.alpha_2), text
            missed += [text] if found is None else []
    # Mostly formal names with a comma: "Bolivia, Plurinational State of".
    assert len(missed) < 40, missed


@pytest.mark.parametrize("language", ["de", "fr", "it", "es", "pl", "cs", "nl", "sv", "fi", "hu", "el", "ru"])
def test_names_in_the_languages_of_catalogues(language: str) -> None:
    names = {code: name for code, name in Locale(language).territories.items() if len(code) == 2}
    wrong = {
        name: country_code(name)
        for code, name in names.items()
        if code.isalpha() and code not in LEFT_OUT and not is_short(name) and country_code(name) != code
    }
    # Two states by the one name of a river are left out, and told at import.
    assert set(wrong.values()) <= {None} and len(wrong) <= 3, wrong


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Österreich", "AT"), ("OESTERREICH", "AT"), ("Oesterreich", "AT"), ("suisse", "CH"), ("Česko", "CZ"),
        ("Czech Republic", "CZ"), ("England", "GB"), ("UK", "GB"), ("U.S.A.", "US"), ("Türkiye", "TR"), ("日本", "JP"),
        ("ไทย", "TH"), ("Niger", "NE"), ("Nigeria", "NG"), ("Bosnia and Herzegovina", "BA"), ("Éire", "IE"),
    ],
)  # fmt: skip
def test_words_that_catalogues_use(text: str, code: str) -> None:
    assert country_code(text) == code


def test_many_names_at_once_are_read_as_each_by_itself() -> None:
    names = [name for line in DATA.read_text(encoding="utf-8").splitlines() for name in line.split("\t") if name]
    others = ["Neverland", "Neverland 12", "", " ", "De", "Österreich.", "OESTERREICH"]
    others += ["日本", "Ελλάδα’s", "U.K.", "a\tb"]
    texts = list(dict.fromkeys([*names, *map(str.upper, names), *(f"{name} 1" for name in names), *others]))
    one_by_one = {text: code for text in texts if (code := country_code(text)) is not None}
    assert known_countries(texts) == one_by_one
    assert len(one_by_one) < len(texts) - 1000
