"""How every published page is written: the frame round it, its policy, its texts; and the files that pages share.

Nothing is fetched and nothing runs but the publication's own files: pages open from a stick as from a server.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from taskdb.report.lettering import shown
from taskdb.report.page_template import page_template
from taskdb.report.pages.catalogue_data import script_of
from taskdb.report.pages.edition import Manner
from taskdb.report.pages.texts import texts_in

_OWN = "'self' file:"
"""`'self'` is a page's server, `file:` the folder it was opened from; a server's page may load no local file."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands round each page of a publication: its title, its state in words, its foot, its pages by path."""

    manner: Manner
    texts: Mapping[str, str]
    title: str
    state: str
    foot: str
    pages: Sequence[tuple[str, str]]

    def page(self, template: str, here: str, heading: str, *, images: str = "", **content: Any) -> bytes:
        """Return a page; `here` is its path among the pages, `images` what else its pictures may come from."""
        text = page_template(f"pages/{template}.html").render(
            language=self.manner.language.value,
            policy=policy(images),
            texts=self.texts,
            title=self.title,
            heading=heading,
            state=self.state,
            foot=self.foot,
            pages=self.pages,
            here=here,
            cautions=[self.texts[f"caution_{what}"] for what in ("navigation", "check", "decide")],
            **content,
        )
        return text.encode("utf-8")


def policy(images: str = "") -> str:
    """Return what a page is allowed: its own files, pictures of one origin where it is given, and nothing else."""
    pictures = f"{_OWN} {images}" if images else _OWN
    return (
        f"default-src 'none'; script-src {_OWN}; style-src {_OWN}; img-src {pictures}; base-uri 'none'; "
        "form-action 'none'"
    )


def image_sources(manner: Manner) -> str:
    """Return what else the pictures of a page with a map may come from, as a policy has it."""
    # The library puts an empty picture, as data, in the place of one that it does not wait for any longer.
    return f"data: {manner.tiles.origin}".strip() if manner.tiles else ""


def map_facts(manner: Manner) -> dict[str, Any]:
    """Return the facts that maps need: units, and where background pictures lie."""
    tiles = manner.tiles
    zooms = (None, None) if tiles is None or tiles.zooms is None else tiles.zooms
    background = None if tiles is None else {"address": tiles.address, "from": zooms[0], "to": zooms[1]}
    return {"units": manner.units.value, "tiles": background}


def frame_of(
    manner: Manner, name: str, date: str, foot: str, state: Iterable[str], pages: Sequence[tuple[str, str]]
) -> Frame:
    """Return the frame of a publication; `pages` are its pages: the key of each one's text, and its path."""
    texts = texts_in(manner.language)
    title = shown(manner.title or name, 120)
    words = " · ".join([texts["state"].format(date=date), *state])
    return Frame(manner, texts, title, words, foot, [(path, texts[key]) for key, path in pages])


def shared_files(texts: Mapping[str, str], edition: Mapping[str, Any], names: Sequence[str]) -> dict[str, bytes]:
    """Return the files that pages share: the look, the texts and facts that scripts say, and the scripts named."""
    content = {"texts.js": (script_of("TEXTS", texts) + script_of("EDITION", edition)).encode("utf-8")}
    folder = files("taskdb.report.pages") / "static"
    return content | {name: (folder / name).read_bytes() for name in ("look.css", *names)}
