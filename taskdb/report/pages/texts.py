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
    "map_outside": (
        "Far from the others, outside the first view: {n} of {total} waypoints.",
        "Fern der übrigen, außerhalb der ersten Ansicht: {n} von {total} Wegpunkten.",
    ),
    "map_whole": ("Show all", "Alle zeigen"),
    "map_main": ("Show the main part", "Den Hauptteil zeigen"),
    "map_choose": ("Choose a symbol to see what it is.", "Ein Symbol wählen, um zu sehen, was es ist."),
    "zoom_in": ("Zoom in", "Vergrößern"),
    "zoom_out": ("Zoom out", "Verkleinern"),
    "borders": ("borders", "Grenzen"),
    "graticule": ("graticule", "Gradnetz"),
    "background": ("background", "Hintergrund"),
    # -- a contest --------------------------------------------------------------------------------------------------
    "days": ("Days", "Tage"),
    "day_n": ("Day {number}", "Tag {number}"),
    "without_day": ("Without a day", "Ohne Tag"),
    "from_to": ("{first} to {last}", "{first} bis {last}"),
    "classes": ("Classes: {names}", "Klassen: {names}"),
    "site": ("Site: {name}", "Platz: {name}"),
    "programme": ("Programme of the day", "Programm des Tages"),
    "phone": ("Outlanding desk", "Außenlandetelefon"),
    "briefing": ("briefing", "Briefing"),
    "grid": ("grid", "Startaufstellung"),
    "start_opens": ("start opens", "Abflug öffnet"),
    "no_task": ("No task is issued for this day.", "Für diesen Tag ist keine Aufgabe ausgegeben."),
    "col_task": ("task", "Aufgabe"),
    "col_class": ("class", "Klasse"),
    "col_type": ("type", "Art"),
    "col_distance": ("distance", "Strecke"),
    "col_time": ("time", "Zeit"),
    "col_fingerprint": ("fingerprint", "Prüfzeichen"),
    "col_state": ("state", "Stand"),
    "status_issued": ("issued", "ausgegeben"),
    "status_flown": ("flown", "geflogen"),
    "status_cancelled": ("cancelled", "abgesagt"),
    "status_replaced": ("replaced", "ersetzt"),
    "gone": ("No longer valid", "Nicht mehr gültig"),
    "gone_small": ("do not fly these", "diese nicht fliegen"),
    "type_racing": ("racing", "Rennaufgabe"),
    "type_assigned-area": ("assigned area", "zugewiesene Gebiete"),
    "type_modified": ("modified", "mit eigener Wahl"),
    "type_declared": ("declared course", "angemeldete Strecke"),
    "fingerprint": ("Fingerprint", "Prüfzeichen"),
    "compare": ("Compare a fingerprint", "Ein Prüfzeichen vergleichen"),
    "compare_label": ("The one on your sheet or that you heard", "Das auf dem Blatt oder das gehörte"),
    "compare_current": ("{code} is {task}: it is valid.", "{code} ist {task}: gültig."),
    "compare_gone": (
        "{code} was {task} and is REPLACED: take the sheet that is valid now.",
        "{code} war {task} und ist ERSETZT: das jetzt gültige Blatt nehmen.",
    ),
    "compare_none": (
        "{code} is no task of this publication: ask the officials.",
        "{code} ist keine Aufgabe dieser Veröffentlichung: die Leitung fragen.",
    ),
    "compare_form": (
        "A fingerprint has eight signs, such as {example}.",
        "Ein Prüfzeichen hat acht Zeichen, zum Beispiel {example}.",
    ),
    "sheet": ("Task sheet", "Aufgabenblatt"),
    "sheet_brings": (
        "The files bring the points, the sheet brings the zones: check each on the instrument against it.",
        "Die Dateien bringen die Punkte, das Blatt bringt die Zonen: jede am Gerät mit dem Blatt vergleichen.",
    ),
    "task_distance": ("Task distance", "Aufgabenstrecke"),
    "minimum": ("Minimum", "Minimum"),
    "maximum": ("Maximum", "Maximum"),
    "time": ("Time", "Zeit"),
    "points": ("Points and zones", "Punkte und Zonen"),
    "points_small": ("WGS84, courses true", "WGS84, Kurse rechtweisend"),
    "col_point": ("point", "Punkt"),
    "col_zone": ("zone", "Zone"),
    "col_leg": ("leg", "Schenkel"),
    "out_of_date": ("Out of date", "Nicht mehr aktuell"),
    "changed": ("Changed", "Geändert"),
    "earlier": ("Earlier editions", "Frühere Ausgaben"),
    "col_edition": ("edition", "Ausgabe"),
    "col_handed": ("handed out", "ausgegeben am"),
    "valid": ("valid", "gültig"),
    "files_contest": (
        "Every file of every issued task. Compare the checksum where a file came by another way.",
        "Jede Datei jeder ausgegebenen Aufgabe. Die Prüfsumme vergleichen, wo eine Datei anders ankam.",
    ),
    "course_map": ("Map of {name}", "Karte von {name}"),
    "course_keys": (
        "Arrow keys move the map, + and − zoom, Enter names what is nearest to its middle. The points stand below.",
        "Pfeiltasten verschieben, + und − zoomen, Enter nennt, was der Mitte am nächsten liegt. Punkte stehen unten.",
    ),
    "course": ("course and zones", "Strecke und Zonen"),
    "airspace": ("airspace", "Luftraum"),
    "airspace_old": (
        "Airspace comes from the publisher's own files and may be old: current charts and NOTAM decide.",
        "Der Luftraum stammt aus eigenen Dateien und kann veraltet sein: aktuelle Karten und NOTAM entscheiden.",
    ),
    "picture_on_sheet": (
        "The map needs script, which is off here; the task sheet holds a fixed one.",
        "Die Karte braucht Skripte, die hier ausgeschaltet sind; das Aufgabenblatt enthält eine feste.",
    ),
    "role_start": ("Start", "Start"),
    "role_finish": ("Finish", "Ziel"),
}


def texts_in(language: Language) -> dict[str, str]:
    """Return every text in a language, by its key."""
    column = list(Language).index(language)
    return {key: both[column] for key, both in _TEXTS.items()}
