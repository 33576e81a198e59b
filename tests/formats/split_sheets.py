"""Spreadsheets of waypoints as people make them, by a seed, with their true positions. Shares no code with the readers.

Headings in eight languages, coordinates whole, split into columns or both in one cell, hemispheres before, after, in a
column of their own or as signs, decimal points and commas, four delimiters, titles, units rows, blank columns, and now
and then a cell that is spoilt.
"""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass, field, replace


@dataclass(frozen=True)
class Words:
    """A language's headings. `pairs` are the headings of hemisphere columns, `letters` what stands for N, S, E, W."""

    code: tuple[str, ...]
    name: tuple[str, ...]
    elevation: str
    latitude: tuple[str, ...]
    longitude: tuple[str, ...]
    degrees: tuple[str, ...]
    minutes: tuple[str, ...]
    seconds: tuple[str, ...]
    pairs: tuple[str, str] = ("N/S", "E/W")
    letters: str = "NSEW"
    comma: bool = True
    regions: tuple[tuple[float, float, float, float], ...] = ((46.0, 54.0, 6.0, 16.0),)


LANGUAGES = {
    "en": Words(
        ("Code", "ID", "Short name"), ("Name", "Waypoint"), "Elevation", ("Lat", "Latitude"),
        ("Lon", "Long", "Longitude"), ("deg", "Deg", "degrees"), ("min", "Min", "minutes"), ("sec", "Sec", "seconds"),
        comma=False, regions=((50.0, 56.0, -4.0, 1.5), (-38.0, -28.0, 115.0, 152.0), (33.0, 45.0, -120.0, -75.0)),
    ),
    "de": Words(
        ("Kürzel", "Kennung"), ("Name", "Bezeichnung"), "Höhe", ("Breite", "Breitengrad"), ("Länge", "Längengrad"),
        ("Grad",), ("Min", "Minuten"), ("Sek", "Sekunden"), ("N/S", "O/W"), "NSOW",
    ),
    "fr": Words(
        ("Code", "Sigle"), ("Nom",), "Altitude", ("Latitude", "Lat"), ("Longitude", "Long"),
        ("degrés", "deg"), ("minutes", "min"), ("secondes", "sec"), ("N/S", "E/O"), "NSEO",
        regions=((43.0, 50.0, -4.0, 7.0),),
    ),
    "it": Words(
        ("Codice",), ("Nome",), "Quota", ("Latitudine", "Lat"), ("Longitudine", "Long"),
        ("gradi",), ("primi", "minuti"), ("secondi",), ("N/S", "E/O"), "NSEO", regions=((38.0, 46.0, 7.0, 18.0),),
    ),
    "es": Words(
        ("Código", "Clave"), ("Nombre",), "Elevación", ("Latitud", "Lat"), ("Longitud", "Lon"),
        ("grados",), ("minutos", "min"), ("segundos",), ("N/S", "E/O"), "NSEO",
        regions=((36.0, 43.0, -9.0, 3.0), (-38.0, -30.0, -68.0, -58.0)),
    ),
    "pl": Words(
        ("Kod",), ("Nazwa",), "Wysokość", ("Szerokość", "Szer."), ("Długość", "Dł."),
        ("stopnie", "st."), ("minuty", "min"), ("sekundy", "sek"), regions=((49.0, 54.0, 14.0, 24.0),),
    ),
    "nl": Words(
        ("Code",), ("Naam",), "Hoogte", ("Breedte", "Lat"), ("Lengte", "Lon"),
        ("graden",), ("minuten",), ("seconden",), regions=((51.0, 53.0, 3.5, 7.0),),
    ),
    "sv": Words(
        ("Code",), ("Namn",), "Elevation", ("Latitud", "Lat"), ("Longitud", "Long"),
        ("grader",), ("minuter",), ("sekunder",), regions=((55.5, 64.0, 11.5, 20.0),),
    ),
}  # fmt: skip


@dataclass
class Sheet:
    """A spreadsheet: its bytes, the true position of each code in degrees with how far rounding may move it, and the
    codes of rows in which a cell is spoilt. `kind` says how it was made.
    """

    kind: str
    content: bytes
    places: dict[str, tuple[float, float, float]]
    spoilt: frozenset[str]
    elevations_m: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Form:
    """How one sheet writes its coordinates."""

    layout: str  # whole, split, joint
    parts: str  # D, DM, DMS
    decimals: int
    sign: str  # minus, before, after, column, column-before, in-degrees
    comma: bool
    marks: str  # "", "signs", "cells"


def make_sheet(seed: int) -> Sheet:
    """Return the sheet of a seed."""
    dice = random.Random(seed)
    name = dice.choice(list(LANGUAGES))
    words = LANGUAGES[name]
    form = _form(dice, words)
    if dice.random() < 0.6:
        # A lone O is never read without being told which side it is, so most sheets write E and W.
        words = replace(words, letters="NSEW")
    region = dice.choice(words.regions)
    rows, places, headings, groups = [], {}, [], []
    count = dice.randrange(5, 40)
    for i in range(count):
        latitude, longitude = dice.uniform(*region[:2]), dice.uniform(*region[2:])
        cells, tolerance, latitude, longitude = _coordinates(form, words, latitude, longitude)
        code = f"{dice.choice('ABCDEFG')}{i:03d}"
        places[code] = (latitude, longitude, tolerance)
        rows.append((code, cells))
    headings, groups = _headings(dice, form, words, len(rows[0][1]))
    return _table(dice, name, words, form, rows, places, headings, groups)


def _form(dice: random.Random, words: Words) -> Form:
    layout = dice.choices(("whole", "split", "joint"), (30, 58, 12))[0]
    parts = dice.choices(("D", "DM", "DMS"), (20, 50, 30) if layout == "split" else (40, 35, 25))[0]
    comma = words.comma and dice.random() < 0.6
    if layout == "split":
        signs = ("minus", "column", "column-before", "in-degrees") if parts != "D" else ("column", "column-before")
        weights = (30, 45, 15, 10) if parts != "D" else (70, 30)
        sign = dice.choices(signs, weights)[0]
        marks = dice.choices(("", "cells"), (85, 15))[0] if parts != "D" else ""
    else:
        sign = dice.choices(("minus", "before", "after"), (50, 15, 35) if parts == "D" else (15, 25, 60))[0]
        marks = "signs" if parts != "D" and dice.random() < 0.7 else ""
        if layout == "joint" and parts == "D":
            comma = comma and sign != "minus"
    decimals = {"D": dice.randrange(4, 8), "DM": dice.randrange(1, 5), "DMS": dice.randrange(0, 3)}[parts]
    return Form(layout, parts, decimals, sign, comma, marks)


def _coordinates(form: Form, words: Words, latitude: float, longitude: float) -> tuple[list[str], float, float, float]:
    """Return the cells of both coordinates, and the place that they say, with how far rounding may move it."""
    north, half_n, true_n = _axis(form, words, latitude, is_latitude=True)
    east, half_e, true_e = _axis(form, words, longitude, is_latitude=False)
    if form.layout == "joint":
        joint = ", " if form.parts == "D" and not form.comma else " "
        return [f"{north[0]}{joint}{east[0]}"], max(half_n, half_e), true_n, true_e
    return [*north, *east], max(half_n, half_e), true_n, true_e


def _axis(form: Form, words: Words, value: float, *, is_latitude: bool) -> tuple[list[str], float, float]:
    size = abs(value)
    unit = {"D": 1, "DM": 60, "DMS": 3600}[form.parts] * 10**form.decimals
    total = round(size * unit)
    true = total / unit if value >= 0 else -total / unit
    north, south, east, west = words.letters
    letter = (north if value >= 0 else south) if is_latitude else (east if value >= 0 else west)
    point = "," if form.comma else "."
    scale = 10**form.decimals
    whole, fraction = divmod(total, scale)
    tail = f"{point}{fraction:0{form.decimals}d}" if form.decimals else ""
    if form.parts == "D":
        numbers = [f"{whole}{tail}"]
    elif form.parts == "DM":
        numbers = [str(whole // 60), f"{whole % 60}{tail}"]
    else:
        numbers = [str(whole // 3600), str(whole // 60 % 60), f"{whole % 60}{tail}"]
    minus = "-" if value < 0 and form.sign == "minus" else ""
    if form.layout == "split":
        marks = ("°", "'", '"') if form.marks == "cells" else ("", "", "")
        cells = [number + mark for number, mark in zip(numbers, marks, strict=False)]
        cells[0] = minus + cells[0]
        if form.sign == "in-degrees":
            cells[0] = f"{letter} {cells[0]}"
        if form.sign == "column":
            cells.append(letter)
        if form.sign == "column-before":
            cells.insert(0, letter)
        return cells, 0.51 / unit + 1e-7, true
    if form.marks == "signs":
        text = "".join(number + mark for number, mark in zip(numbers, ("°", "'", '"'), strict=False))
    else:
        text = " ".join(numbers)
    if form.sign == "before":
        text = f"{letter}{text}"
    elif form.sign == "after":
        text = f"{text}{' ' if form.parts == 'DM' else ''}{letter}"
    return [minus + text], 0.51 / unit + 1e-7, true


def _headings(dice: random.Random, form: Form, words: Words, width: int) -> tuple[list[str], list[str]]:
    """Return the headings of the coordinates' columns, and those of a row above them (empty where there is none)."""
    if form.layout == "joint":
        return [dice.choice(("Position", "Coordinates", "Koordinaten" if words.comma else "Coordinate"))], []
    axes = dice.choice(words.latitude), dice.choice(words.longitude)
    if form.layout == "whole":
        unit = dice.choice(("", "", " (°)", " [deg]")) if form.parts == "D" else ""
        return [axis + unit for axis in axes], []
    at = dice.randrange(len(words.degrees)), dice.randrange(len(words.minutes)), dice.randrange(len(words.seconds))
    parts = [words.degrees[at[0]], words.minutes[at[1]], words.seconds[at[2]]][: len(form.parts)]
    styles = ["words", "words", "signs", "first", "group", "units", "blank"]
    styles += ["bare"] if form.sign.startswith("column") else []
    styles += ["letters", "together"] if axes[0] in ("Lat", "Latitude") and not words.comma else []
    if form.parts == "D":
        styles = ["words"]
    style = dice.choice(styles)
    found, above = [], []
    for axis, pair in zip(axes, words.pairs, strict=True):
        own, over = _axis_headings(style, axis, parts if form.parts != "D" else [""])
        if form.sign.startswith("column"):
            own_pair = dice.choice((pair, f"{axis} {pair}")) if style == "words" else "" if style == "blank" else pair
            if form.sign == "column":
                own.append(own_pair)
                over.append("")
            else:
                # With a blank header in front the axis stands over the letter, as over merged cells.
                own.insert(1 if style == "blank" else 0, own_pair)
                over.insert(1 if style in ("group", "units") else 0, "")
        found += own
        above += over
    return found, above if style in ("group", "units") else []


def _axis_headings(style: str, axis: str, parts: list[str]) -> tuple[list[str], list[str]]:
    signs = ["°", "'", '"']
    over = [axis, *[""] * (len(parts) - 1)]
    if style == "words":
        return [f"{axis} {part}".strip() for part in parts], over
    if style == "signs":
        return [f"{axis} {sign}" for sign in signs[: len(parts)]], over
    if style == "letters":
        return [f"{axis} {letter}" for letter in "DMS"[: len(parts)]], over
    if style == "together":
        return [f"{axis}{part.capitalize()}" for part in parts], over
    if style == "first":
        return [axis, *parts[1:]], over
    if style == "blank":
        return list(over), over
    return list(parts), over


def _table(
    dice: random.Random,
    language: str,
    words: Words,
    form: Form,
    rows: list[tuple[str, list[str]]],
    places: dict[str, tuple[float, float, float]],
    headings: list[str],
    groups: list[str],
) -> Sheet:
    unit = dice.choice(("m", "ft"))
    has_height, has_name = dice.random() < 0.6, dice.random() < 0.8
    is_name_first = dice.random() < 0.3
    is_height_first = dice.random() < 0.15
    lead = [""] if dice.random() < 0.1 else []
    texts = [dice.choice(words.code), *([dice.choice(words.name)] if has_name else [])]
    height = [f"{words.elevation} ({unit})"] if has_height else []
    elevations: dict[str, float] = {}
    lines: list[list[str]] = []
    point = "," if form.comma else "."
    for number, (code, cells) in enumerate(rows):
        own = [code, *([f"Place {number}"] if has_name else [])]
        metres = dice.randrange(3, 2500)
        shown = str(metres) if unit == "m" else f"{metres / 0.3048:.1f}".replace(".", point)
        if has_height:
            elevations[code] = float(metres)
        tops = [shown] if has_height else []
        ordered = [*(reversed(own) if is_name_first else own)]
        body = [*tops, *cells] if is_height_first else [*cells, *tops]
        lines.append([*lead, *ordered, *body])
    heads = [*(reversed(texts) if is_name_first else texts)]
    first = len(lead) + len(heads) + (len(height) if is_height_first else 0)
    header = [*lead, *heads, *(height if is_height_first else []), *headings, *([] if is_height_first else height)]
    spoilt = _spoil(dice, lines, rows, first) if dice.random() < 0.04 else frozenset()
    top: list[list[str]] = [header]
    if groups:
        blank = [""] * first
        over = [*blank, *groups, *[""] * (len(header) - first - len(groups))]
        if dice.random() < 0.5:
            # The other headings stand in the upper row, and below are the parts alone.
            upper = [
                a or (b if not first <= i < first + len(groups) else "")
                for i, (a, b) in enumerate(zip(over, header, strict=False))
            ]
            lower = [b if first <= i < first + len(groups) else "" for i, b in enumerate(header)]
            top = [upper, lower]
        else:
            top = [over, header]
    titles = [["Vereinsliste 2027"], []] if dice.random() < 0.1 else []
    delimiter = dice.choice(";\t" if form.comma else ",;\t|") if dice.random() < 0.9 else ","
    return Sheet(
        kind=f"{language} {form} {headings} {groups}",
        content=_written(dice, [*titles, *top, *lines], delimiter),
        places=places,
        spoilt=spoilt,
        elevations_m=elevations,
    )


def _spoil(
    dice: random.Random, lines: list[list[str]], rows: list[tuple[str, list[str]]], first: int
) -> frozenset[str]:
    """Spoil one coordinate cell so that it cannot be read as anything, and return the code of its row."""
    at = dice.randrange(len(lines))
    column = first + dice.randrange(len(rows[at][1]))
    cell = lines[at][column]
    ways = ["", "#REF!", "?", cell + "x", "999" + cell if cell[:1].isdigit() else "??", "1.2.3,4"]
    lines[at][column] = dice.choice(ways)
    return frozenset({rows[at][0]})


def _written(dice: random.Random, rows: list[list[str]], delimiter: str) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator=dice.choice(("\r\n", "\n")))
    for row in rows:
        writer.writerow(row)
    encodings = ["utf-8", "utf-8", "utf-8-sig"]
    try:
        text.getvalue().encode("cp1252")
        encodings.append("cp1252")
    except UnicodeEncodeError:
        pass
    return text.getvalue().encode(dice.choice(encodings))
