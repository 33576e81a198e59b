"""What a file calls a volume, as one of our kinds: our own words, the codes of AIXM, and ICAO's classes."""

from __future__ import annotations

from taskdb.core.airspace.volume import Kind
from taskdb.core.names import fold

_CLASS_PROPERTIES = ("class", "icao class", "classification")
# CodeAirspaceType of AIXM 5.1 (EUROCONTROL and FAA), from memory, and the words that these codes stand for.
_CODES = {
    "p": Kind.PROHIBITED, "prohibited area": Kind.PROHIBITED,
    "r": Kind.RESTRICTED, "restricted area": Kind.RESTRICTED, "tra": Kind.RESTRICTED, "tsa": Kind.RESTRICTED,
    "d": Kind.DANGER, "danger area": Kind.DANGER, "d other": Kind.DANGER, "w": Kind.DANGER, "a": Kind.DANGER,
    "ctr": Kind.CONTROLLED, "cta": Kind.CONTROLLED, "tma": Kind.CONTROLLED, "uta": Kind.CONTROLLED,
    "oca": Kind.CONTROLLED, "control zone": Kind.CONTROLLED, "control area": Kind.CONTROLLED,
    "keep out": Kind.KEEP_OUT, "other": Kind.OTHER,
}  # fmt: skip
# ICAO Annex 11, 2.6 (from memory): classes A to E are controlled airspace, F and G are not.
_CLASSES = dict.fromkeys("abcde", Kind.CONTROLLED) | dict.fromkeys("fg", Kind.OTHER)


def kind_of(text: str, property_name: str) -> Kind | None:
    """Return the kind for a word under a property of this name; None for a word that is not known.

    `D` is a danger area as a type, and controlled airspace as a class.
    """
    folded = fold(text)
    if fold(property_name) in _CLASS_PROPERTIES:
        letter = folded.removeprefix("class ")
        if letter in _CLASSES:
            return _CLASSES[letter]
    elif folded.startswith("class ") and folded[6:] in _CLASSES:
        return _CLASSES[folded[6:]]
    by_word = {fold(kind.value): kind for kind in Kind}
    return by_word.get(folded) or _CODES.get(folded)
