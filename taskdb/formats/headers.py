"""Which column holds what: the headers of a table in several languages, and what a person says over them.

Fields bear the names of the waypoint's JSON (`latitude_deg`), with a few that only intake knows (`position` for both
coordinates in one cell). A header that fits nothing is left aside and told; two that fit one field are refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from taskdb.core.names import fold
from taskdb.errors import InputError, UsageError

_NAMES: dict[str, str] = {
    "code": "code ident identifier id short shortname short_name abbreviation abbr kürzel kuerzel kurzname kurzzeichen "
    "kennung sigle sigla codice código clave koodi kod icao iata",
    "name": "name title waypoint waypoint_name wegpunkt wendepunkt bezeichnung ort place punkt nom lieu nombre nome "
    "naam nazwa název navn namn lugar luogo long_name longname full_name city",
    "latitude_deg": "latitude lat latitude_deg lat_deg breite breitengrad geographische_breite latitud latitudine "
    "breddegrad latitude_wgs84 lat_wgs84 wgs84_lat decimal_latitude latitude_decimal gps_latitude",
    "longitude_deg": "longitude lon long lng longitude_deg lon_deg länge laenge längengrad laengengrad "
    "geographische_länge longitud longitudine lengdegrad longitude_wgs84 lon_wgs84 wgs84_lon decimal_longitude "
    "longitude_decimal gps_longitude",
    "position": "position coordinates coordinate koordinaten koordinate coordonnées coordenadas coordinate_wgs84 "
    "latlon lat_lon latlong lat_long latitude_longitude coord coords gps utm mgrs geo_uri coordinate_string",
    "elevation": "elevation elev elevation_amsl altitude alt height höhe hoehe höhe_über_meer meereshöhe "
    "elevación altitud élévation quota altezza hoogte ele",
    "landable": "landable landbar landability landbarkeit landeplatz atterrissable aterrizable atterrabile",
    "kind": "type typ kind art category kategorie style classe tipo genre",
    "feature": "feature landmark merkmal repère geländemerkmal",
    "country": "country land pays país paese country_code ländercode iso_country cc",
    "radio": "radio frequency freq frequenz funk funkfrequenz fréquence frecuencia frequenza channel kanal "
    "radio_channel frequency_mhz freq_mhz",
    "runways": "runways runway landing_strip landing_strips piste pisten pistes pista pistas rwy rwys landebahn "
    "landebahnen",
    "runway_designator": "runway_designator rwy_designator runway_name designator pistenbezeichnung",
    "runway_heading": "runway_heading rwy_heading rwy_hdg runway_direction rwy_direction rwy_dir heading direction "
    "pistenrichtung richtung landerichtung qfu bahnrichtung",
    "runway_length": "runway_length rwy_length rwy_len pistenlänge bahnlänge length länge_m piste_länge longueur_piste",
    "runway_width": "runway_width rwy_width pistenbreite bahnbreite width breite_m",
    "runway_surface": "runway_surface rwy_surface surface belag oberfläche pistenbelag",
    "description": "description desc comment comments remark remarks note notes beschreibung bemerkung bemerkungen "
    "kommentar anmerkung commentaire remarque descripción observaciones descrizione info information notiz",
    "source": "source quelle fuente fonte herkunft",
    "inspected_on": "inspected_on inspected last_inspected inspected_at besichtigt besichtigt_am geprüft geprüft_am "
    "checked_on",
    "identity": "identity uuid",
    "reason": "reason",
    "extras": "extras",
}  # fmt: skip
_UNITS = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres", "metern", "metri", "metros", "mètres"), "m"),
    **dict.fromkeys(("ft", "feet", "foot", "fuss", "fuß", "pieds", "piedi", "pies"), "ft"),
}
_REFERENCES = frozenset({"msl", "amsl", "asl", "nn", "mamsl", "slm"})
_KNOWN = {fold(word.replace("_", " ")): name for name, words in _NAMES.items() for word in words.split()}
_MEASURED = ("elevation", "runway_length", "runway_width")
_ONE_ONLY = ("code", "latitude_deg", "longitude_deg", "position", "elevation")
_LESSER = ("icao", "iata", "city")
"""Headings that are taken only where no other claims their field, the first of them before the next."""
_OWN = {
    "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "landable", "feature", "country", "radio",
    "runways", "description", "source", "inspected_on", "identity",
}  # fmt: skip

_NONE: Mapping[str, int] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Header:
    """What a header says: the field, and the unit or reference that stands in it (`m`, `ft`, `true`, `magnetic`)."""

    field: str
    unit: str | None = None


@dataclass(slots=True)
class Assignment:
    """Which column (from 0) holds which field, and what the headers said about units."""

    columns: dict[str, int] = field(default_factory=dict)
    units: dict[str, str | None] = field(default_factory=dict)
    ignored: list[str] = field(default_factory=list)


def recognise(header: str) -> Header | None:
    """Return what a header holds, or None. Case, marks and separators do not matter; a unit may end it."""
    # "ü. M." (über Meer) is a reference, and its M no unit.
    key = fold(re.sub(r"(?i)\b(?:ü|ue|s)\.?\s*(?:d\.?\s*)?m\.?(?=\W|$)", " msl ", header.replace("°", " deg ")))
    if key in _KNOWN and _KNOWN[key] not in _MEASURED:
        return Header(_KNOWN[key])
    words = key.split()
    unit = None
    while len(words) > 1 and (words[-1] in _UNITS or words[-1] in _REFERENCES):
        unit = _UNITS.get(words.pop(), unit)
    bare = " ".join(words)
    named = _KNOWN.get(bare)
    if named in _MEASURED:
        return Header(named, unit)
    if key in _KNOWN:
        return Header(_KNOWN[key])
    for reference in ("true", "magnetic", "mag"):
        rest = " ".join(word for word in words if word not in (reference, "deg"))
        if reference in words and _KNOWN.get(rest) == "runway_heading":
            return Header("runway_heading", "true" if reference == "true" else "magnetic")
    if words and words[-1] in ("deg", "degrees", "dms", "wgs84", "decimal", "dd", "grad"):
        named = _KNOWN.get(" ".join(words[:-1]))
        if named in ("latitude_deg", "longitude_deg", "position", "runway_heading"):
            return Header(named)
    return None


def field_name(header: Header) -> str:
    """Return the name under which people see a field: `elevation_m` for an elevation in whatever unit."""
    return "elevation_m" if header.field == "elevation" else header.field


def looks_like_header(cells: Sequence[str]) -> bool:
    """Say whether a row names columns: a coordinate or a code with something else is recognised in it."""
    found = {known.field for cell in cells if (known := recognise(cell)) is not None}
    return len(found) >= 2 and bool(found & {"code", "name", "latitude_deg", "longitude_deg", "position"})


def _own_field(text: str) -> Header:
    """Return the field that a person named in `--column FIELD=HEADER`."""
    known = recognise(text)
    if known is None or known.field == "reason":
        raise UsageError(
            "unknown-field",
            f"{text!r} is no field of a waypoint.",
            hint=f"Fields are {', '.join(sorted(_OWN))} and position.",
        )
    return known


def find_column(headers: Sequence[str], wanted: str, others: Sequence[str] = ()) -> int:
    """Return the column that a person named by its header or as `#N`; `others` could have been named too."""
    number = re.fullmatch(r"#(\d+)", wanted.strip())
    if number is not None and 1 <= int(number[1]) <= len(headers):
        return int(number[1]) - 1
    for same in (lambda h: h == wanted, lambda h: fold(h) == fold(wanted) and fold(h) != ""):
        hits = [i for i, header in enumerate(headers) if same(header)]
        if hits:
            return hits[0]
    columns = [header for header in (*headers, *others) if header != "extras"]
    raise InputError(
        "no-such-column",
        f"The file has no column {wanted!r}.",
        hint=f"Its columns are: {', '.join(columns)}.",
        details={"columns": columns},
    )


def assign(
    headers: Sequence[str],
    told: Mapping[str, str],
    fixed: Mapping[str, int] = _NONE,
    others: Sequence[str] = (),
) -> Assignment:
    """Return which column holds which field: what a person told first, then what the format and the headers say.

    Raises InputError where two headers claim one field that must be one, UsageError for an unknown field.
    """
    result = Assignment()
    for name, header in told.items():
        known = _own_field(name)
        column = find_column(headers, header, others)
        result.columns[known.field] = column
        result.units[known.field] = known.unit or (recognise(header) or known).unit
    for name, column in fixed.items():
        if name not in result.columns:
            result.columns[name] = column
            result.units[name] = "m"
    taken = set(result.columns.values()) | set(fixed.values())
    claims: dict[str, list[tuple[int, Header]]] = {}
    for i, header in enumerate(headers):
        if i in taken:
            continue
        seen = recognise(header)
        if seen is None or seen.field in result.columns:
            result.ignored.append(header)
        elif seen.field != "reason":
            claims.setdefault(seen.field, []).append((i, seen))
    for name, hits in claims.items():
        column, seen = _choose(name, hits, headers)
        result.columns[name], result.units[name] = column, seen.unit
        result.ignored += [headers[i] for i, _ in hits if i != column and headers[i]]
    if "latitude_deg" in result.columns and "longitude_deg" in result.columns:
        dropped = result.columns.pop("position", None)
        if dropped is not None:
            result.ignored.append(headers[dropped])
    result.ignored = [header for header in result.ignored if header.strip()]
    return result


def _rank(header: str) -> int:
    return _LESSER.index(fold(header))


def _choose(name: str, hits: list[tuple[int, Header]], headers: Sequence[str]) -> tuple[int, Header]:
    """Return the one of several columns that holds a field: our own header, then the one that says metres."""
    plain = [hit for hit in hits if fold(headers[hit[0]]) not in _LESSER]
    if len(plain) < len(hits):
        # Of an airport's codes the four letters, before those of the airlines; the town only where nothing else names.
        return _choose(name, plain, headers) if plain else min(hits, key=lambda hit: _rank(headers[hit[0]]))
    exact = [hit for hit in hits if headers[hit[0]].strip().lower() in _OWN or headers[hit[0]].strip().lower() == name]
    metric = [hit for hit in hits if hit[1].unit == "m"]
    with_unit = [hit for hit in hits if hit[1].unit is not None]
    for choice in (exact, metric, with_unit, hits):
        if len(choice) == 1:
            return choice[0]
    if name not in _ONE_ONLY:
        return hits[0]
    names = [headers[i] for i, _ in hits]
    shown = "elevation" if name == "elevation" else name
    raise InputError(
        "ambiguous-column",
        f"Several columns could be the {shown}: {', '.join(names)}.",
        hint=f"Say which: --column {shown}={names[0]!r}.",
        details={"field": shown, "columns": names},
    )
