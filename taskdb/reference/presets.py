"""Presets of contests: readable TOML shipped with the package, or a user's own file. Looked up, not applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from typing import Any

from taskdb.errors import InputError, NotFoundError
from taskdb.untrusted.toml_text import read_toml


@dataclass(frozen=True, slots=True)
class Preset:
    """A preset as texts: zones by role, settings by key, and the source of each by the same names.

    `classes` are presets of their own, by the name of a class: what is set for it.
    """

    name: str
    summary: str
    zones: Mapping[str, str]
    settings: Mapping[str, str]
    sources: Mapping[str, str]
    classes: Mapping[str, Preset] = field(default_factory=dict)


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

    Tables `zones` and `settings` hold `KEY = { value = "…", source = "…" }`; `summary` is a sentence; a table
    `classes.NAME` has `zones` and `settings` for one class.
    """
    try:
        document = read_toml(content.decode("utf-8"))
    except ValueError as error:
        raise InputError("not-a-preset", f"{name} is no TOML: {error}.", hint="See the shipped presets.") from None
    unknown = sorted(set(document) - {"summary", "zones", "settings", "classes"})
    if unknown:
        raise _bad(name, f"{', '.join(unknown)} is no part of a preset; it has summary, zones, settings and classes")
    problems: list[str] = []
    classes = document.get("classes", {})
    if not isinstance(classes, dict) or not all(isinstance(table, dict) for table in classes.values()):
        raise _bad(name, "classes holds no tables by the names of classes")
    made = _preset(name, document, "", problems)
    own = {}
    for class_name, table in classes.items():
        where = f"classes.{class_name}."
        problems += [f"{where}{part} is no part of a class" for part in sorted(set(table) - {"zones", "settings"})]
        own[class_name] = _preset(name, table, where, problems)
    if problems:
        raise _bad(name, "; ".join(problems))
    return replace(made, classes=own)


def _preset(name: str, document: Mapping[str, Any], where: str, problems: list[str]) -> Preset:
    sources: dict[str, str] = {}
    zones = _table(document, "zones", where, sources, problems)
    settings = _table(document, "settings", where, sources, problems)
    return Preset(name, str(document.get("summary", "")), zones, settings, sources)


def _table(
    document: Mapping[str, Any], part: str, where: str, sources: dict[str, str], problems: list[str]
) -> dict[str, str]:
    table = document.get(part, {})
    part = where + part
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
