"""Takes passwords out of what is said of a failure: those of URLs, wherever they were typed, and the store's own.

The store's address hides its password itself (`store/address.py`); this is for what never became an address.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, unquote_plus

if TYPE_CHECKING:
    from taskdb.cli.frame.settings import Settings

_IN_URL = re.compile(r"(://[^\s:/@]*:)[^\s@]*@")
_IN_OPTION = re.compile(r"\b((?:ssl)?password=)[^\s&'\"]+", re.IGNORECASE)
_OF_STORE = re.compile(r"//[^:/@]*:(.+)@")
_OF_OPTION = re.compile(r"\b(?:ssl)?password\s*=\s*([^&\s]+)", re.IGNORECASE)
_HIDDEN = r"\1***"


def without_url_passwords(value: Any) -> Any:
    """Return a text, or lists and mappings of texts, with the passwords of URLs in it replaced by ***."""
    if isinstance(value, str):
        return _IN_OPTION.sub(_HIDDEN, _IN_URL.sub(_HIDDEN + "@", value))
    if isinstance(value, Mapping):
        return {key: without_url_passwords(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [without_url_passwords(one) for one in value]
    return value


def without_store_passwords(text: str, settings: Settings) -> str:
    """Return a text without the passwords of URLs, and without the store's own as it was typed and as it is sent."""
    hidden: str = without_url_passwords(text)
    for address in (settings.store or "", os.environ.get("TASKDB_STORE", "")):
        for found in (*_OF_STORE.findall(address), *_OF_OPTION.findall(unquote(address))):
            for form in (found, unquote(found), unquote_plus(found)):
                hidden = hidden.replace(form, "***")
    return hidden.replace(password, "***") if (password := os.environ.get("PGPASSWORD")) else hidden
