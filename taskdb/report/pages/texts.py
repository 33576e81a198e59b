"""What published pages say, in each language that they speak: one table, and nothing of it anywhere else.

Names, remarks and what files hold stay as they are. Sheets are those of the hand-out and stay English.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Language(StrEnum):
    """A language that pages are written in."""

    EN = "en"
    DE = "de"


# key: (English, German). `{…}` is filled in, here or by the pages' own scripts.
_TEXTS: Mapping[str, tuple[str, str]] = {
    # -- what stands on every page ----------------------------------------------------------------------------------
    "skip": ("Skip to the content", "Zum Inhalt"),
    "pages": ("Pages", "Seiten"),
    "find": ("Find", "Suchen"),
    "list": ("List", "Liste"),
    "map": ("Map", "Karte"),
    "changes": ("Changes", "Änderungen"),
    "files": ("Files", "Dateien"),
    "state": ("State of {date}", "Stand {date}"),
    "revision": ("revision {number}", "Revision {number}"),
    "valid_from": ("valid from {date}", "gültig ab {date}"),
    "waypoints_n": ("{n} waypoints", "{n} Wegpunkte"),
    "caution_navigation": (
        "A planning aid, not for primary navigation.",
        "Eine Planungshilfe, nicht zur primären Navigation.",
    ),
    "caution_check": (
        "Check current airspace, NOTAM, weather and local rules; whether a field can be landed at is seen on the day.",
        "Aktuelle Lufträume, NOTAM, Wetter und örtliche Regeln prüfen; ob ein Feld landbar ist, zeigt sich am Tag.",
    ),
    "caution_decide": (
        "The pilot in command, and in a contest its officials, decide.",
        "Es entscheiden die verantwortliche Pilotin oder der Pilot und im Wettbewerb dessen Leitung.",
    ),
    "no_script": (
        "Searching needs script, which is off here. The list holds every waypoint.",
        "Die Suche braucht Skripte, die hier ausgeschaltet sind. Die Liste enthält alle Wegpunkte.",
    ),
    # -- finding ----------------------------------------------------------------------------------------------------
    "search_label": ("Code, name or beginnings of words", "Code, Name oder Wortanfänge"),
    "landable": ("Landable", "Landbar"),
    "feature": ("Feature", "Merkmal"),
    "any": ("any", "alle"),
    "hits": ("{n} of {total} waypoints", "{n} von {total} Wegpunkten"),
    "hits_shown": ("{shown} of {n} shown", "{shown} von {n} angezeigt"),
    "no_hit": ("No waypoint fits.", "Kein Wegpunkt passt."),
    "more": ("Show more", "Mehr anzeigen"),
    "col_code": ("code", "Code"),
    "col_name": ("name", "Name"),
    "col_kind": ("kind", "Art"),
    "col_elevation": ("elevation", "Höhe"),
    "col_position": ("position", "Position"),
    "col_known": ("what is known", "was bekannt ist"),
    "list_pages": ("Pages of the list", "Seiten der Liste"),
    "list_from_to": ("{first} to {last}", "{first} bis {last}"),
    # -- kinds ------------------------------------------------------------------------------------------------------
    "landable_aerodrome": ("aerodrome", "Flugplatz"),
    "landable_field": ("field", "Landefeld"),
    "landable_emergency": ("emergency field", "Notlandefeld"),
    "landable_no": ("not landable", "nicht landbar"),
    "feature_settlement": ("settlement", "Ort"),
    "feature_crossing": ("crossing", "Kreuzung"),
    "feature_water": ("water", "Gewässer"),
    "feature_relief": ("relief", "Geländeform"),
    "feature_structure": ("structure", "Bauwerk"),
    "feature_transport": ("transport", "Verkehrsweg"),
    "feature_contest-point": ("contest point", "Wettbewerbspunkt"),
    # -- one waypoint -----------------------------------------------------------------------------------------------
    "position": ("Position", "Position"),
    "position_small": ("WGS84", "WGS84"),
    "minutes": ("degrees, minutes", "Grad, Minuten"),
    "seconds": ("degrees, minutes, seconds", "Grad, Minuten, Sekunden"),
    "degrees": ("degrees", "Grad"),
    "copy": ("Copy", "Kopieren"),
    "copied": ("Copied", "Kopiert"),
    "open_with": ("Open with a map of this device", "In einer Karte dieses Geräts öffnen"),
    "on_map": ("Show on the map", "Auf der Karte zeigen"),
    "elevation": ("Elevation", "Höhe"),
    "elevation_from": ("filled in from terrain: {source}", "aus Gelände ergänzt: {source}"),
    "above_sea": ("above mean sea level", "über dem Meeresspiegel"),
    "channels": ("Channels", "Frequenzen"),
    "runways": ("Runways", "Bahnen"),
    "runways_small": (
        "north up, lengths and directions to scale; where they lie is not known",
        "Norden oben, Längen und Richtungen maßstäblich; ihre Lage ist nicht bekannt",
    ),
    "runways_picture": ("Runways drawn to scale, true north up", "Bahnen maßstäblich, geographisch Nord oben"),
    "true": ("true", "rechtweisend"),
    "magnetic": ("magnetic", "missweisend"),
    "no_magnetic": ("no magnetic direction known", "keine missweisende Richtung bekannt"),
    "magnetic_from": (
        "Magnetic by {model} on {date}.",
        "Missweisend nach {model} am {date}.",
    ),
    "one_way": ("one direction only", "nur eine Richtung"),
    "strip": ("strip, nothing more known", "Bahn, mehr ist nicht bekannt"),
    "remarks": ("Remarks", "Bemerkungen"),
    "source": ("Source", "Quelle"),
    "inspected": ("Inspected", "Besichtigt"),
    "country": ("Country", "Land"),
    "nearby": ("Nearest waypoints", "Nächste Wegpunkte"),
    "nearby_small": ("distance and true bearing from here", "Entfernung und rechtweisende Peilung von hier"),
    "changed_since": ("Changed since {edition}", "Geändert seit {edition}"),
    "findings": ("Findings of the check", "Befunde der Prüfung"),
    "not_there": (
        "There is no waypoint {code} here. It may be retired or have another code.",
        "Einen Wegpunkt {code} gibt es hier nicht. Er kann gestrichen sein oder einen anderen Code haben.",
    ),
    "waypoint": ("Waypoint", "Wegpunkt"),
    "choose_one": ("Choose a waypoint on the page Find.", "Einen Wegpunkt auf der Seite Suchen wählen."),
    # -- changes ----------------------------------------------------------------------------------------------------
    "changes_title": ("What changed since {edition}", "Was sich seit {edition} geändert hat"),
    "first_edition": (
        "This is the first edition: there is none before it to compare with.",
        "Dies ist die erste Ausgabe: es gibt keine frühere zum Vergleichen.",
    ),
    "no_change": ("Nothing differs: there is nothing to update.", "Nichts weicht ab: es ist nichts zu aktualisieren."),
    "moved_title": ("Moved", "Verschoben"),
    "moved_small": ("put in the new position", "die neue Position übernehmen"),
    "retired_title": ("No longer to be used", "Nicht mehr verwenden"),
    "retired_small": ("take these out", "diese streichen"),
    "added_title": ("New", "Neu"),
    "added_small": ("put these in", "diese aufnehmen"),
    "others_title": ("Changed", "Geändert"),
    "others_small": (
        "code, name or what is known of the place",
        "Code, Name oder was über den Ort bekannt ist",
    ),
    "col_what": ("what", "was"),
    "is_new": ("new", "neu"),
    "moved": ("moved {length} towards {bearing}", "um {length} verschoben, Richtung {bearing}"),
    "moved_little": ("moved by less than a millimetre", "um weniger als einen Millimeter verschoben"),
    "refined": ("stated more finely, by {length}", "genauer angegeben, um {length}"),
    "before": ("before: {value}", "vorher: {value}"),
    "field_code": ("code", "Code"),
    "field_name": ("name", "Name"),
    "field_elevation_m": ("elevation", "Höhe"),
    "field_landable": ("landable", "landbar"),
    "field_feature": ("feature", "Merkmal"),
    "field_country": ("country", "Land"),
    "field_radio": ("channels", "Frequenzen"),
    "field_runways": ("runways", "Bahnen"),
    "field_description": ("remarks", "Bemerkungen"),
    "field_source": ("source", "Quelle"),
    "field_inspected_on": ("inspected", "besichtigt"),
    # -- files ------------------------------------------------------------------------------------------------------
    "files_title": ("Files to take", "Dateien zum Mitnehmen"),
    "files_lead": (
        "The same waypoints in every open format. Compare the checksum where a file came by another way.",
        "Dieselben Wegpunkte in jedem offenen Format. Die Prüfsumme vergleichen, wo eine Datei anders ankam.",
    ),
    "col_file": ("file", "Datei"),
    "col_format": ("format", "Format"),
    "col_size": ("size", "Größe"),
    "col_sum": ("SHA-256", "SHA-256"),
    "col_lost": ("does not hold", "enthält nicht"),
    # -- map --------------------------------------------------------------------------------------------------------
    "map_of": ("Map of {name}", "Karte von {name}"),
    "map_static": (
        "A fixed map, north up at its middle; not every waypoint has room on it.",
        "Eine feste Karte, in der Mitte nach Norden ausgerichtet; nicht jeder Wegpunkt hat darauf Platz.",
    ),
    "borders_coarse": (
        "Borders are good to a few kilometres.",
        "Grenzen sind auf einige Kilometer genau.",
    ),
    "map_keys": (
        "Arrow keys move the map, + and − zoom, Enter names the waypoint nearest to its middle. All of them stand in "
        "the list too. Small dots: nearer together than symbols; zoom in.",
        "Pfeiltasten verschieben, + und − zoomen, Enter nennt den Wegpunkt, der der Mitte am nächsten liegt. Alle "
        "stehen auch in der Liste. Kleine Punkte: dichter als die Symbole; vergrößern.",
    ),
    "map_choose": ("Choose a symbol to see what it is.", "Ein Symbol wählen, um zu sehen, was es ist."),
    "zoom_in": ("Zoom in", "Vergrößern"),
    "zoom_out": ("Zoom out", "Verkleinern"),
    "borders": ("borders", "Grenzen"),
    "graticule": ("graticule", "Gradnetz"),
    "background": ("background", "Hintergrund"),
}


def texts_in(language: Language) -> dict[str, str]:
    """Return every text in a language, by its key."""
    column = list(Language).index(language)
    return {key: both[column] for key, both in _TEXTS.items()}
