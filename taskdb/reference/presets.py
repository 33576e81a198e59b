"""Presets of contests: readable TOML shipped with the package, or a user's own file. Looked up, not applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any

from taskdb.core.toml_text import read_toml
from taskdb.errors import InputError, NotFoundError


@dataclass(frozen=True, slots=True)
class Preset:
    """A preset as texts: zones by role, settings by key, and the source of each by the same names."""

    name: str
    summary: str
    zones: Mapping[str, str]
    settings: Mapping[str, str]
    sources: Mapping[str, str]


def preset_names() -> tuple[str, ...]:
    """Return the names of the shipped presets, sorted."""
    folder = resources.files("taskdb.reference") / "presets"
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


def shipped_preset(name: str) -> Preset:
    """Return a shipped preset. NotFoundError with the names that there are."""
    if name not in preset_names():
        raise NotFoundError(
            "preset-not-found",
            f"There is no preset {name!r}.",
            hint=f"Presets: {', '.join(preset_names())}; or name a TOML file of your own.",
        )
    file = resources.files("taskdb.reference") / "presets" / f"{name}.toml"
    return read_preset(name, file.read_bytes())


def read_preset(name: str, content: bytes) -> Preset:
    """Return the preset in a TOML document. InputError where it is none, naming the place.

    Tables `zones` and `settings` hold `KEY = { value = "…", source = "…" }`; `summary` is a sentence.
    """
    try:
        document = read_toml(content.decode("utf-8"))
    except ValueError as error:
        raise InputError("not-a-preset", f"{name} is no TOML: {error}.", hint="See the shipped presets.") from None
    unknown = sorted(set(document) - {"summary", "zones", "settings"})
    if unknown:
        raise _bad(name, f"{', '.join(unknown)} is no part of a preset; it has summary, zones and settings")
    sources: dict[str, str] = {}
    problems: list[str] = []
    zones = _table(document, "zones", sources, problems)
    settings = _table(document, "settings", sources, problems)
    if problems:
        raise _bad(name, "; ".join(problems))
    return Preset(name, str(document.get("summary", "")), zones, settings, sources)


def _table(document: Mapping[str, Any], part: str, sources: dict[str, str], problems: list[str]) -> dict[str, str]:
    table = document.get(part, {})
    if not isinstance(table, dict):
        problems.append(f"{part} is no table")
        return {}
    values = {}
    for key, entry in table.items():
        if (
            not isinstance(entry, dict)
            or not {"value", "source"} >= set(entry)
            or not isinstance(entry.get("value"), str)
        ):
            problems.append(f'{part}.{key} is not {{ value = "…", source = "…" }}')
            continue
        values[key] = entry["value"]
        sources[key] = str(entry.get("source", ""))
    return values


def _bad(name: str, reason: str) -> InputError:
    return InputError("not-a-preset", f"{name}: {reason}.", hint="`taskdb contest presets NAME` shows a shipped one.")
