"""TOML files of profiles and presets that were made to hang or crash whoever reads them are refused in words."""

from __future__ import annotations

import time

import pytest

from taskdb.errors import InputError
from taskdb.formats.text.profiles import parse_profile
from taskdb.reference.presets import preset_names, read_preset, shipped_preset
from taskdb.untrusted.toml_text import LARGEST_LETTERS, BadToml, read_toml

COLUMN = "\n[[column]]\nfield = 'code'\n"
HARMFUL = {
    "a key of thousands of parts": "quoting." + "a." * 5_000 + "a = 1" + COLUMN,
    "a summary too deep to be shown": "summary." + "a." * 480 + "a = 1\n",
    "a source too deep to be shown": "[zones]\nstart = {value = 'line 1km', source." + "a." * 450 + "a = 1}\n",
    "a setting too deep to be shown": "quoting." + "a." * 480 + "a = 1" + COLUMN,
    "brackets": "summary = " + "[" * 900,
    "brackets over lines": "summary = " + "[\n" * 20_000,
    "more of it than anybody writes": "\n".join(f"a{i} = 1" for i in range(20_000)),
    "headers of hundreds of parts": "\n".join("[" + "a." * 400 + f"k{i}]" for i in range(1_200)),
    "a number of thousands of digits": "summary = " + "9" * 10_000,
    "digits over the limit of an integer": "summary = '''\n'''\nevent = " + "9" * 900 + "\n",
    "no table where one must be": "zones = 1\nsettings = []\n",
    "lists of lists of lists": "summary = " + "[" * 40 + "]" * 40 + "\n",
    "odd types": "quoting = 2027-05-14\nseparator = {}\ndecimal = [1]\nrows = 1e9999" + COLUMN,
}


@pytest.mark.parametrize("name", HARMFUL)
def test_a_harmful_profile_or_preset_is_refused_at_once(name: str) -> None:
    text = HARMFUL[name]
    began = time.process_time()
    with pytest.raises(InputError) as profile:
        parse_profile(text)
    with pytest.raises(InputError) as preset:
        read_preset("mine.toml", text.encode())
    assert time.process_time() - began < 1.0
    assert profile.value.hint and len(profile.value.message) < 1_000
    assert preset.value.hint and len(preset.value.message) < 500_000


def test_what_is_refused_says_why_and_where() -> None:
    for text, why, line in (
        ("a = 1\nb = " + "9" * 1_000, "a line has 1,004 letters; up to 1,000 are read", 2),
        ("#" * 10 + "\n" * LARGEST_LETTERS, "it has 65,546 letters; up to 65,536 are read", None),
        ("a = [[[[[[[[[[[1]]]]]]]]]]]", "it nests more than 10 deep", None),
        ("a = 1\na = 2\nb = 3", "Cannot overwrite a value", 2),
    ):
        with pytest.raises(BadToml) as bad:
            read_toml(text)
        assert (bad.value.why, bad.value.line) == (why, line)


def test_what_people_write_is_read() -> None:
    assert read_toml("a = 1\n[b]\nc = ['x', {d = '(at line 3)'}]\n") == {
        "a": 1,
        "b": {"c": ["x", {"d": "(at line 3)"}]},
    }
    assert all(shipped_preset(name).summary for name in preset_names())
