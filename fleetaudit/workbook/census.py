"""Rows, cells and texts of a part counted while it is unpacked piece by piece, before it is held whole.

A part may keep to the limits of size and still hold millions of empty elements; unpacking and parsing those
would take minutes and gigabytes. Small parts are not worth the second pass.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from fleetaudit.workbook.archive import MIB, Package
from fleetaudit.workbook.place import LAST_ROW

_WORTH_BYTES = 16 * MIB
_MOST_STRINGS = 2_000_000
_LONGEST_NAME = 64
_ELEMENT = re.compile(rb"<(?:[A-Za-z_][\w.-]*:)?(row|c|v|is|f|si)[\s/>]")
_LETTERS = {b"row": b"r", b"c": b"c", b"v": b"v", b"is": b"v", b"f": b"v", b"si": b"s"}
_FILLED_ROW = re.compile(rb"r[cs]*v")


def refuse_crowds(package: Package, name: str) -> None:
    """Refuse a sheet or string part with more rows, cells or texts than a sheet can have or may have here."""
    if name not in package or package.size(name) < _WORTH_BYTES:
        return
    limits = package.limits
    most = {"rows": LAST_ROW, "cells": limits.cells, "texts": _MOST_STRINGS, "rows with values": limits.rows}
    if _surely_few(package, name, most):
        return
    counted = dict.fromkeys(most, 0)
    row = b""
    for new in _kinds(package, name):
        for letter, what in ((b"r", "rows"), (b"c", "cells"), (b"s", "texts")):
            counted[what] += new.count(letter)
        kinds = row + new
        last = kinds.rfind(b"r")
        counted["rows with values"] += len(_FILLED_ROW.findall(kinds, 0, max(last, 0)))
        row = b"rv" if b"v" in kinds[last:] else b"r" if last >= 0 or row else b""
        for what, count in counted.items():
            if count > most[what]:
                raise package.unsafe(f'part "{name}" holds more than {most[what]:,} {what}')


def _surely_few(package: Package, name: str, most: Mapping[str, int]) -> bool:
    """Tell at a glance that a part cannot hold more, by counting letters without reading any element."""
    brackets = rows = texts = 0
    rest = b""
    for piece in package.pieces(name):
        text = rest + piece
        brackets += piece.count(b"<")
        rows += text.count(b"<row") + text.count(b":row")
        texts += text.count(b"si") - rest.count(b"si")
        rest = text[-len(b"<row") + 1 :]  # too short to be counted twice, but for the shorter letters
    return (
        brackets <= most["cells"]
        and rows <= min(most["rows"], most["rows with values"])
        and min(texts, brackets) <= most["texts"]
    )


def _kinds(package: Package, name: str) -> Iterator[bytes]:
    """One letter for each element that is counted, piece by piece; a tag cut in two waits for the next."""
    rest = b""
    for piece in package.pieces(name):
        text = rest + piece
        cut = text.rfind(b"<")
        cut = len(text) if cut < 0 or len(text) - cut > _LONGEST_NAME else cut
        rest = text[cut:]
        yield b"".join(map(_LETTERS.__getitem__, _ELEMENT.findall(text, 0, cut)))
