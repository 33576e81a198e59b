"""One cell of a table to one value: elevations with their unit, words in several languages, radio, runways, dates.

A reader of a cell gives the value, or a `Trouble`; it never raises and never guesses a unit or a word.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from taskdb.core.facilities import AIR_BAND_MHZ, CHANNEL_ENDINGS, parse_radio, parse_runways, with_channels
from taskdb.core.model import Feature, Landable, Radio, Runway
from taskdb.core.names import clean_all, clean_text, fold
from taskdb.core.notation import Trouble
from taskdb.core.numbers import plain_number
from taskdb.core.quantities import FOOT_M
from taskdb.errors import UsageError

LOWEST_M, HIGHEST_M = -500.0, 9000.0
_LARGEST_MEASURE = 1e6
_MEASURE = re.compile(r"([+-]?\d+)(?:([.,])(\d+)|\.(?!\d))?\s*([^\W\d_]+\.?)?(?:\s*(?:a?msl|asl))?", re.IGNORECASE)
_UNITS = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres", "mt", "mtr"), "m"),
    **dict.fromkeys(("ft", "feet", "foot", "fuss", "fuß", "pieds"), "ft"),
}
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_ESCAPED = re.compile(r"'+[=+\-@\t\r]")
_SIGNED = re.compile(r"[+-]\d[\d.,:°º'’′\"″ ]*[NSEWnsew]?")


def neutralise(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula: an apostrophe goes before what would begin one."""
    return "'" + text if _FORMULA.match(text) else text


def neutralise_as_typed(text: str) -> str:
    """Return a cell as it stood in another's table, with an apostrophe where it would begin a formula.

    A signed number or coordinate is none; what has its apostrophe already keeps it. Reading gives the same either way.
    """
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") and not _SIGNED.fullmatch(text) else text


def restore(text: str) -> str:
    """Return the text that `neutralise` was given; other texts stay as they are."""
    return text[1:] if text.startswith("'") and _ESCAPED.match(text) else text


def restore_all(texts: Sequence[str]) -> list[str]:
    """Return texts as `restore` gives them, trimmed and in NFC."""
    return clean_all(list(map(restore, texts)) if "'" in "".join(texts) else texts)


def read_measure(text: str, unit: str | None, decimal: str | None) -> tuple[float, str] | Trouble:
    """Return metres (not rounded) and the unit for `512`, `1234ft`, `1234.5 m`; Trouble without any unit.

    `unit` is what header or option say about bare numbers, `decimal` the file's decimal sign where it is known.
    """
    match = _MEASURE.fullmatch(text.strip()) or _MEASURE.fullmatch(plain_number(text.strip()))
    if match is None:
        return Trouble("bad-number", "it is no number with or without a unit, e.g. 512, 512m or 1680ft")
    whole, point, fraction, word = match.groups()
    named = None
    if word is not None:
        named = _UNITS.get(word.rstrip(".").lower())
        if named is None and word.lower() not in ("msl", "amsl", "asl"):
            return Trouble("bad-unit", f"the unit {word!r} is not known; use m or ft")
    if point is not None and len(fraction) == 3 and point != (decimal or "."):
        return Trouble(
            "ambiguous-number",
            f"it may be {whole}{fraction} or {whole}.{fraction}",
            f"write {whole}{fraction} or {whole}{decimal or '.'}{fraction}0",
        )
    used = named or unit
    if used is None:
        return Trouble("missing-unit", "it has no unit, and neither the header nor an option says m or ft")
    value = float(f"{whole}.{fraction or 0}")
    if abs(value) > _LARGEST_MEASURE:
        return Trouble("out-of-range", f"it is beyond {_LARGEST_MEASURE:,.0f}")
    return (value if used == "m" else value * FOOT_M), used


def read_elevation(text: str, unit: str | None, decimal: str | None) -> tuple[float, str] | Trouble:
    """Return metres above mean sea level to 0.1 m, and the unit; Trouble beyond what the Earth has."""
    read = read_measure(text, unit, decimal)
    if isinstance(read, Trouble):
        return read
    metres, used = read
    if not LOWEST_M <= metres <= HIGHEST_M:
        return Trouble("out-of-range", f"{metres:.0f} m is no elevation on Earth ({LOWEST_M:.0f} to {HIGHEST_M:.0f} m)")
    return round(metres, 1) + 0.0, used


_LANDABLE_WORDS = {
    Landable.AERODROME: "aerodrome;airfield;airport;gliding site;glider site;airstrip;flugplatz;flughafen;"
    "segelflugplatz;segelfluggelände;landeplatz;verkehrslandeplatz;aérodrome;aéroport;aeródromo;aeropuerto;aeroporto;"
    "aviosuperficie;aviosuperficie;flyplass;flygplats;vliegveld;lotnisko;letiště",
    Landable.FIELD: "field;outlanding field;outlanding;landable field;außenlandefeld;aussenlandefeld;außenlandefläche;"
    "außenlandeplatz;aussenlandeplatz;landefeld;champ;champ posable;campo;campo atterrabile;pole",
    Landable.EMERGENCY: "emergency;emergency only;emergency field;notlandefeld;notlandung;notlandeplatz;notfeld;"
    "nur im notfall;urgence;champ de secours;emergencia;emergenza",
    Landable.NO: "no;none;not landable;unlandable;nein;nicht landbar;unlandbar;non;non posable;false;nee;nie;nej",
}
_FEATURE_WORDS = {
    Feature.SETTLEMENT: "settlement;town;village;city;hamlet;stadt;dorf;ort;ortschaft;gemeinde;siedlung;weiler;ville;"
    "commune;hameau;pueblo;ciudad;città;paese;dorp;by;miasto;wieś",
    Feature.CROSSING: "crossing;crossroads;junction;road junction;intersection;motorway junction;interchange;kreuzung;"
    "autobahnkreuz;autobahndreieck;abzweig;straßenkreuzung;carrefour;croisement;échangeur;cruce;incrocio;svincolo",
    Feature.WATER: "water;lake;river;reservoir;pond;confluence;coast;island;see;stausee;fluss;weiher;talsperre;mündung;"
    "insel;küste;lac;rivière;fleuve;étang;confluent;lago;río;fiume;embalse;meer;jezioro",
    Feature.RELIEF: "relief;mountain;mountain top;peak;summit;hill;ridge;pass;mountain pass;saddle;valley;gipfel;berg;"
    "berggipfel;hügel;sattel;joch;grat;tal;montagne;sommet;col;colline;crête;vallée;montaña;cumbre;puerto;monte;cima;"
    "passo;vetta",
    Feature.STRUCTURE: "structure;building;tower;mast;castle;church;chapel;monastery;ruin;power station;power plant;"
    "cooling tower;chimney;dam;bridge;silo;quarry;wind turbine;gebäude;turm;sendemast;burg;schloss;kirche;kapelle;"
    "kloster;ruine;kraftwerk;kühlturm;schornstein;staumauer;brücke;steinbruch;windrad;tour;château;église;chapelle;"
    "monastère;ruines;centrale;cheminée;barrage;pont;carrière;torre;castillo;iglesia;puente;presa;castello;chiesa;ponte",
    Feature.TRANSPORT: "transport;railway;railway station;station;motorway;motorway exit;road;tunnel;harbour;port;"
    "eisenbahn;bahnhof;autobahn;autobahnausfahrt;anschlussstelle;straße;hafen;gare;autoroute;route;voie ferrée;"
    "estación;autopista;carretera;stazione;autostrada",
    Feature.CONTEST_POINT: "contest point;contest;start;start point;finish;finish point;turn point;turnpoint;"
    "turning point;control point;wettbewerbspunkt;startpunkt;abflugpunkt;zielpunkt;wendepunkt;point de départ;"
    "point de virage;point d'arrivée;punto de partida;punto di partenza",
}
_LANDABLE = {fold(w): value for value, words in _LANDABLE_WORDS.items() for w in words.split(";")}
_FEATURES = {fold(w): value for value, words in _FEATURE_WORDS.items() for w in words.split(";")}


def read_landable(text: str) -> Landable | None:
    """Return how far a place is landable from a word in several languages, None for a word that is not known."""
    return _LANDABLE.get(fold(text))


def read_feature(text: str) -> Feature | None:
    """Return what a place marks from a word in several languages, None for a word that is not known."""
    return _FEATURES.get(fold(text))


_CHANNEL = re.compile(r"(1[1-3]\d)[.,](\d{1,3})")


def channel_trouble(channel: str) -> Trouble | None:
    """Say what is wrong with a channel of the air band (118 to 137 MHz); anything else is text and not judged."""
    match = _CHANNEL.fullmatch(channel)
    if match is None or int(match[1]) not in AIR_BAND_MHZ:
        return None
    decimals = match[2]
    if decimals.ljust(3, "0")[1:] in CHANNEL_ENDINGS:
        return None
    hundreds, ending = decimals[0], decimals.ljust(3, "0")[1:]
    near = [e for e in sorted(CHANNEL_ENDINGS) if e[0] == ending[0]] if len(decimals) > 1 else []
    near.sort(key=lambda e: (e not in ("25", "75"), abs(int(e) - int(ending))))
    suggestion = f"{match[1]}.{hundreds}{near[0]}" if near else None
    return Trouble("no-such-channel", f"no channel of 25 or 8.33 kHz ends in .{decimals}", suggestion)


def read_radio(text: str) -> tuple[Radio, ...] | Trouble:
    """Return radio channels from `123.505 launch; 122.480`, also `Launch 123.505 MHz`, `123.505 / 122.480`."""
    try:
        entries = parse_radio(re.sub(r"(?<=\d)\s*[/,]\s+(?=1\d\d[.,])|(?<=\d)/(?=1\d\d[.,])", "; ", text))
    except UsageError as error:
        return Trouble(error.code, error.message)
    result = []
    for entry in entries:
        channel, purpose = entry.channel, entry.purpose
        turned = re.fullmatch(r"(.*\S)\s+(1[1-3]\d[.,]\d{1,3})", f"{channel} {purpose or ''}".strip())
        if turned is not None and _CHANNEL.fullmatch(channel) is None:
            channel, purpose = turned[2], turned[1].rstrip(":")
        if _CHANNEL.fullmatch(channel) is not None:
            channel = channel.replace(",", ".")
            purpose = re.sub(r"(?i)^MHz\b\s*", "", purpose) or None if purpose else None
        trouble = channel_trouble(channel)
        if trouble is not None:
            return trouble
        result.append(Radio(clean_text(channel), None if purpose is None else clean_text(purpose) or None))
    return tuple(result)


def read_runways(text: str) -> tuple[Runway, ...] | Trouble:
    """Return runways from `07/25 071deg 850m x 30m grass`, also `RWY 07/25, 850 x 30 m, grass`."""
    if '"' not in text:
        # Nothing of this changes a text in our own form, in which words with digits or commas are quoted.
        text = re.sub(r"(?i)\b(?:rwy|runway|piste|bahn)\s+(?=\d)", "", text).replace(",", " ")
        text = re.sub(r"(\d+)\s*m?\s*[x×]\s*(\d+)\s*m\b", r"\1m x \2m", text)
        text = re.sub(r"(\d)\s+m\b", r"\1m", re.sub(r"(\d)\s*°", r"\1deg", text))
    try:
        return parse_runways(text)
    except UsageError as error:
        return Trouble(error.code, error.message)


_DESIGNATOR = re.compile(r"(?i)(\d{1,2})\s*([LCR]?)(?:\s*[/-]\s*(\d{1,2})\s*([LCR]?))?")


def read_designator(text: str) -> str | Trouble:
    """Return a painted designator, `07/25`; Trouble where its ends are not 18 apart (ICAO Annex 14 I 5.2.2.4)."""
    match = _DESIGNATOR.fullmatch(text.strip())
    if match is None:
        return clean_text(text)
    first, second = int(match[1]), None if match[3] is None else int(match[3])
    if not 1 <= first <= 36 or (second is not None and (not 1 <= second <= 36 or abs(first - second) != 18)):
        return Trouble("bad-designator", "designators go from 01 to 36, and the two ends differ by 18")
    other = "" if second is None else f"/{second:02d}{(match[4] or '').upper()}"
    return f"{first:02d}{match[2].upper()}{other}"


def read_heading(text: str) -> float | Trouble:
    """Return a heading in degrees, 0 ≤ x < 360."""
    match = re.fullmatch(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:°|deg)?", text.strip())
    if match is None or float(match[1].replace(",", ".")) > 360:
        return Trouble("bad-heading", "a heading goes from 0 to 360 degrees")
    return float(match[1].replace(",", ".")) % 360.0


def read_date(text: str) -> str | Trouble:
    """Return an ISO date for `2027-05-14` or `14.05.2027`; `05/06/2027` is refused where day and month can change."""
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)(?:[T ].*)?", text.strip())
    try:
        if match is not None:
            return date(int(match[1]), int(match[2]), int(match[3])).isoformat()
        match = re.fullmatch(r"(\d{1,2})([./])(\d{1,2})\2(\d{4})", text.strip())
        if match is None:
            return Trouble("bad-date", "it is no date; write 2027-05-14")
        day, month, year = int(match[1]), int(match[3]), int(match[4])
        if match[2] == "/" and day != month and day <= 12 and month <= 12:
            return Trouble("ambiguous-date", f"it may be {year}-{month:02d}-{day:02d} or {year}-{day:02d}-{month:02d}")
        if month > 12 >= day and match[2] == "/":
            day, month = month, day
        return date(year, month, day).isoformat()
    except ValueError:
        return Trouble("bad-date", "that day does not exist; write 2027-05-14")


def read_remark(text: str) -> Any:
    """Return text as `read_text` does, the radio channels in it written as those of a radio column."""
    return with_channels(clean_text(text)) or None


def read_text(text: str) -> Any:
    """Return text trimmed and in NFC, None where nothing is left."""
    return clean_text(text) or None
