"""What every page rests on: templates that escape all text, texts made fit to show, hashes for the policy."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import MutableMapping, Sequence
from functools import cache, lru_cache
from typing import Any
from urllib.parse import quote_plus

from jinja2 import BaseLoader, Environment, StrictUndefined, Template
from jinja2 import __version__ as JINJA
from markupsafe import Markup, escape

from fleetaudit.assets import prepared
from fleetaudit.language import code, dated, say
from fleetaudit.writing.page_words import LEVELS
from fleetaudit.writing.register import compact

TEXT_SHOWN = 500
CELLS_SHOWN = 8
#: lines of a table, or units of a line, before it says how many more there are
ROWS_SHOWN = 500
# Control characters, and those that turn the direction of the text around them, have no business on a page.
_UNSAFE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


class Whole(str):
    """A text of ours that may be longer than a cell of the user; shown uncut."""

    __slots__ = ()


def whole(text: str) -> Whole:
    """A text of ours with words of the user in it, fit to show and not cut."""
    return Whole(_UNSAFE.sub("\ufffd", text))


def plain(value: str) -> str:
    """Text of a cell made fit to show: no control or direction characters, cut where too long."""
    if len(value) <= TEXT_SHOWN and value.isascii() and value.isprintable():
        return value
    text = _UNSAFE.sub("\ufffd", value)
    return (
        text
        if len(text) <= TEXT_SHOWN
        else say("{start}… (cut, {count} characters)", start=text[:TEXT_SHOWN], count=len(text))
    )


def phrase(text: str, /, **values: object) -> Whole | Markup:
    """A text of ours in the language spoken, with what fills its holes made fit to show.

    Where a hole is filled with markup of ours, such as a link, everything else is escaped here.
    """
    fit = {name: _finalize(value) for name, value in values.items()}
    if any(isinstance(value, Markup) for value in fit.values()):
        return Markup(escape(say(text)).format_map(fit))
    return Whole(say(text, **fit))


def link(target: str, text: str, kind: str = "") -> Markup:
    """A link, perhaps of a class, to put into a hole of a phrase."""
    start = (
        Markup('<a class="{}" href="{}">').format(kind, target)
        if kind
        else Markup('<a href="{}">').format(target)
    )
    return start + text + Markup("</a>")


def query(text: str) -> str:
    """Text as a value in the address, the way the page shows it."""
    return quote_plus(_UNSAFE.sub("\ufffd", text))


def shown_cells(cells: Sequence[str], home: str = "") -> str:
    """The first cells, sheets named where they are not `home`."""
    pieces = compact(cells, home).split(", ")
    shown = ", ".join(pieces[:CELLS_SHOWN])
    return say("{cells} and more", cells=shown) if len(pieces) > CELLS_SHOWN else shown


class _Shipped(BaseLoader):
    """Loads the shipped templates, compiled by an earlier run where they have not changed since."""

    def load(
        self, environment: Environment, name: str, globals: MutableMapping[str, Any] | None = None
    ) -> Template:
        """Load a template by its name."""
        code = prepared(
            f"templates/{name}", lambda text: environment.compile(text.replace("\r\n", "\n"), name), JINJA
        )
        return environment.template_class.from_code(environment, code, globals or {})


@cache
def environment() -> Environment:
    """Templates as every page uses them: all text escaped, unknown names an error."""
    made = Environment(
        loader=_Shipped(),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["levels"] = lambda remark: say(LEVELS[remark.level])
    made.filters["cells"] = shown_cells
    made.filters["said"] = say
    made.filters["dated"] = lambda day: "" if day is None else dated(day)
    made.globals |= {"_": phrase, "link": link, "strong": Markup("<b>{}</b>").format}
    made.globals["several"] = lambda count, one, many, /, **values: phrase(
        one if count == 1 else many, count=count, **values
    )
    made.globals["language"] = code
    made.filters["quantity"] = lambda value: f"{value:.4g}"
    made.filters["outline"] = Markup  # numbers and path letters only, and longer than a text may be
    return made


#: for texts of no other type, since one that is marked as safe equals one that is not
_fit = lru_cache(maxsize=8_192)(plain)


def _finalize(value: object) -> object:
    return _fit(value) if type(value) is str else value


def lean(source: str) -> str:
    """Style sheet or script without indents and whole-line comments."""
    stripped = (line.strip() for line in source.replace("\r\n", "\n").split("\n"))
    return "\n".join(line for line in stripped if line and not line.startswith("//"))


def content_hash(text: str) -> str:
    """Hash of an inline script or style as a Content-Security-Policy names it."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
