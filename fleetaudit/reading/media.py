"""Names of media as people write them, with mesh, layers and blends, brought to the rows of the catalogue."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import isnan

from msgspec import Struct

from fleetaudit import units
from fleetaudit.catalogue.model import Catalogue, Medium
from fleetaudit.catalogue.spelling import normalise
from fleetaudit.language import say
from fleetaudit.reading import grammar
from fleetaudit.reading.patterns import pattern
from fleetaudit.reading.plain import cut, plain
from fleetaudit.schema.column import Missing, Origin

CLOSE = 90
NEAREST_NAMED = 60
LONGEST = 400
_NONE = -1
_MESH = pattern(
    r"(?<![\d.])(\d{1,3} ?[x/] ?\d{1,3}|\d?\.?\d+ ?- ?\d?\.?\d+ ?mm"
    r"|\d+/\d+ ?- ?\d+/\d+ ?(?:in|\")?)(?![\d.])",
    re.IGNORECASE,
)
_DIGITS = pattern(r"\d+(?:\.\d+)?")
_BETWEEN = pattern(r"\s*(?:;|\n|\+|\bover\b|\bon top of\b|\babove\b|\bthen\b|,|\bon\b)\s*", re.I)
_LAST_UNDER = pattern(r"\b(?:under|below)\b", re.I)
_SHARE_PAIR = pattern(r"(?<![\d.x])(\d{1,3}(?:\.\d+)?) ?%? ?[/:-] ?(\d{1,3}(?:\.\d+)?)(?: ?%)?(?![\d.x])")
_PERCENT = pattern(r"(\d{1,3}(?:\.\d+)?) ?%")
_NUMBER = r"\d+(?: \d+/\d+|\.\d+|/\d+)?"
_MEASURE = r"cu\.? ?ft|cubic feet|ft3|ft|inch(?:es)?|in|cm|mm|litres?|liters?|l|m|\"|'"
_AMOUNT_LAST = pattern(
    rf"(?P<name>.*?[a-z)].*?)[ :,=-]+(?P<number>{_NUMBER}) ?(?P<unit>[a-z\"'][a-z\"' .]*[23]?)", re.I
)
_AMOUNT_FIRST = pattern(
    rf"(?P<number>{_NUMBER}) ?(?P<unit>(?:{_MEASURE})(?![a-z])\.?) ?(?:of )?(?P<name>[a-z].*)", re.I
)
_ONE_AMOUNT = pattern(rf"[a-z][^\d]*? {_NUMBER} ?(?:{_MEASURE})(?![a-z])\.?", re.I)
_ROW_OF_AMOUNTS = pattern(rf"(?:\s*{_ONE_AMOUNT.pattern}\s*){{2,}}", re.I)
_JOIN = pattern(r"\s*(?:/|&|\+|\band\b|,|;)\s*", re.I)


class Part(Struct, frozen=True):
    """One layer: medium code, and its depth [m], volume [m3] or share of the bed; NaN where not given."""

    code: int
    depth_m: float = float("nan")
    volume_m3: float = float("nan")
    share: float = float("nan")


class MediumReading(Struct, frozen=True):
    """What a medium cell says; `told` is the sentence to say about it, `assumed` the name taken instead."""

    code: int = _NONE
    origin: Origin = Origin.TYPED
    missing: Missing = Missing.KNOWN
    parts: tuple[Part, ...] = ()
    non_bed: str = ""
    told: str = ""
    assumed: str = ""
    usual_mesh: bool = False


class _Name(Struct, frozen=True):
    """A medium found by name: its code, or why there is none."""

    code: int = _NONE
    guessed: bool = False
    problem: str = ""
    several_meshes: bool = False


class Reader:
    """Reads media for one catalogue; remembers every spelling it was asked for."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._names: dict[str, _Name] = {}

    def read(self, text: str, mesh: str = "") -> MediumReading:
        """Medium of a cell, with the mesh of its own column where there is one."""
        text, mesh = plain(text), plain(mesh)
        if grammar.says_nothing(text):
            return MediumReading(missing=Missing.BLANK)
        if len(text) > LONGEST:
            return MediumReading(missing=Missing.UNREADABLE, told=_too_long(text))
        known = self.catalogue.find_medium(text)
        non_bed = "" if known else self.catalogue.find_non_bed(text) or ""
        if non_bed:
            return MediumReading(missing=Missing.NOT_IN_CATALOGUE, non_bed=non_bed)
        if not known:
            parts, names = self._several(text)
            if parts:
                return self._of_parts(text, parts, names)
        return self._single(text, mesh)

    def layers(self, text: str) -> MediumReading:
        """Layers of a cell that is meant to hold layers."""
        text = plain(text)
        if grammar.says_nothing(text):
            return MediumReading(missing=Missing.BLANK)
        if len(text) > LONGEST:
            return MediumReading(missing=Missing.UNREADABLE, told=_too_long(text))
        parts, names = self._several(text, 1)
        if not parts:
            return MediumReading(
                missing=Missing.UNREADABLE,
                told=say(
                    'layers "{text}" are not understood. Write it as "anthracite 18 in; sand 12 in".',
                    text=cut(text),
                ),
            )
        return self._of_parts(text, parts, names)

    def _single(self, text: str, mesh: str) -> MediumReading:
        name = self.name(text, mesh)
        if name.code == _NONE:
            return MediumReading(missing=Missing.NOT_IN_CATALOGUE, told=name.problem)
        medium = self.catalogue.media[name.code]
        if name.guessed:
            return MediumReading(
                name.code,
                Origin.GUESSED,
                told=say(
                    '"{text}" read as {name}. Correct it, or add the spelling as a synonym on the '
                    "Media sheet.",
                    text=cut(text),
                    name=say(medium.name),
                ),
                assumed=medium.name,
            )
        return MediumReading(name.code, usual_mesh=name.several_meshes)

    def _of_parts(self, text: str, parts: tuple[Part, ...], names: Sequence[_Name]) -> MediumReading:
        lost = next((name for name in names if name.code == _NONE), None)
        if lost is not None:
            return MediumReading(missing=Missing.NOT_IN_CATALOGUE, told=f'"{cut(text)}": {lost.problem}')
        main = max(parts, key=_size)
        guessed = [self.catalogue.media[name.code].name for name in names if name.guessed]
        if guessed:
            return MediumReading(
                main.code,
                Origin.GUESSED,
                parts=parts,
                assumed=", ".join(guessed),
                told=say(
                    '"{text}" read as {names}. Correct it.', text=cut(text), names=self._names_of(parts)
                ),
            )
        return MediumReading(main.code, parts=parts)

    def _names_of(self, parts: tuple[Part, ...]) -> str:
        return ", ".join(self.catalogue.media[part.code].name for part in parts)

    def name(self, text: str, mesh: str = "") -> _Name:
        """Medium of a name, in the mesh given; a misspelling counts where exactly one medium is close."""
        key = f"{text}\n{mesh}"
        if key not in self._names:
            self._names[key] = self._find(text, mesh)
        return self._names[key]

    def _find(self, text: str, mesh: str) -> _Name:
        if mesh and not grammar.says_nothing(mesh):
            for words in (f"{text} {mesh}", f"{mesh} {text}"):
                exact = self.catalogue.find_medium(words)
                if exact:
                    return _Name(self.catalogue.codes[exact])
        exact = self.catalogue.find_medium(text)
        if exact:
            return self._in_mesh(text, exact, mesh)
        inside = _MESH.search(text)
        if not inside and "(" in text:
            outer, inner = _INNER.sub(" ", text), " ".join(_INNER.findall(text))
            named = {key for key in map(self.catalogue.find_medium, (outer, inner)) if key}
            if len(named) == 1:
                name = self._in_mesh(text, named.pop(), mesh)
                return _Name(name.code, True, name.problem)
        if inside:
            rest = normalise(text[: inside.start()] + " " + text[inside.end() :])
            base = self.catalogue.find_medium(rest)
            if base:
                return self._in_mesh(text, base, inside[1])
        return self._close(text, mesh)

    def _in_mesh(self, text: str, key: str, mesh: str) -> _Name:
        """The row of the family with the mesh; with no mesh said, the row the name stands for."""
        medium, code = self.catalogue.medium(key), self.catalogue.codes[key]
        family = [one for one in self.catalogue.same_family(key) if one.mesh]
        wanted = _mesh(mesh)
        if not wanted or grammar.says_nothing(mesh):
            named_in_text = bool(_MESH.search(text)) or _mesh(medium.mesh) in _mesh(text)
            return _Name(code, several_meshes=len(family) > 1 and medium.usual and not named_in_text)
        if _mesh(medium.mesh) == wanted or not medium.mesh:
            return _Name(code)
        same = [one for one in family if _mesh(one.mesh) == wanted and _kind(one) == _kind(medium)]
        if len(same) == 1:
            return _Name(self.catalogue.codes[same[0].key])
        same = [one for one in family if _mesh(one.mesh) == wanted]
        if len(same) == 1:
            return _Name(self.catalogue.codes[same[0].key], guessed=True)
        known = ", ".join(dict.fromkeys(one.mesh for one in family))
        return _Name(
            problem=say(
                '{name} of mesh "{mesh}" is not in the catalogue ({known}). Correct the mesh, or '
                "add it as a row of the Media sheet.",
                name=say(medium.name),
                mesh=cut(mesh),
                known=known,
            )
        )

    def _close(self, text: str, mesh: str) -> _Name:
        from rapidfuzz import fuzz, process  # noqa: PLC0415 - a name nobody knows is rare and the import slow

        wanted = normalise(text)
        numbers = _DIGITS.findall(wanted)
        found = process.extract(
            wanted, list(self.catalogue.synonyms), scorer=fuzz.ratio, score_cutoff=NEAREST_NAMED, limit=12
        )
        near = {
            self.catalogue.synonyms[spelling]: None
            for spelling, score, _ in found
            if score >= CLOSE and _DIGITS.findall(spelling) == numbers
        }
        if len(near) == 1:
            name = self._in_mesh(text, next(iter(near)), mesh)
            return _Name(name.code, True, name.problem)
        keys = list(near or dict.fromkeys(self.catalogue.synonyms[spelling] for spelling, _, _ in found))[:2]
        names = f" {say('or')} ".join(say(self.catalogue.medium(key).name) for key in keys)
        return _Name(
            problem=(
                say(
                    '"{text}": {names}? Not guessed. Correct it, or add the spelling on the Media sheet.',
                    text=cut(text),
                    names=names,
                )
                if names
                else say(
                    '"{text}": no known medium is like it. Correct it, or add the spelling on the Media '
                    "sheet.",
                    text=cut(text),
                )
            )
        )

    def _several(self, text: str, least: int = 2) -> tuple[tuple[Part, ...], list[_Name]]:
        """Layers or the parts of a blend, support without a depth left out; none where it is neither."""
        blend = self._blend(text)
        if blend[0]:
            return blend
        pieces = [piece for piece in _BETWEEN.split(text) if piece.strip()]
        if len(pieces) == 1 and _ROW_OF_AMOUNTS.fullmatch(text):
            pieces = [found.group() for found in _ONE_AMOUNT.finditer(text)]
        if len(pieces) < least or _LAST_UNDER.search(text):
            return (), []
        parts, names = [], []
        for piece in pieces:
            words, number, unit = _amount(piece)
            name = self.name(words)
            value = grammar.read(number).number if number else float("nan")
            known = units.find(unit) if unit else None
            if number and (known is None or known.si not in ("m", "m3")):
                return (), []
            depth = value * known.factor if known is not None and known.si == "m" else float("nan")
            volume = value * known.factor if known is not None and known.si == "m3" else float("nan")
            parts.append(Part(name.code, depth, volume))
            names.append(name)
        if all(name.code == _NONE for name in names):
            return (), []
        kept = [place for place, part in enumerate(parts) if not (self._supports(part) and _size(part) == 0)]
        return tuple(parts[place] for place in kept), [names[place] for place in kept]

    def _supports(self, part: Part) -> bool:
        return part.code != _NONE and self.catalogue.media[part.code].support

    def _blend(self, text: str) -> tuple[tuple[Part, ...], list[_Name]]:
        shares = [float(found) for found in _PERCENT.findall(text)]
        pair = _SHARE_PAIR.search(text)
        if len(shares) < 2 and pair:
            both = [float(pair[1]), float(pair[2])]
            shares = both if abs(sum(both) - 100) < 1e-6 else []
            rest = text[: pair.start()] + " " + text[pair.end() :]
            words = [word for word in _JOIN.split(rest.strip(" ,;:()")) if word.strip(" ()%")]
        elif len(shares) >= 2:
            words = [
                word
                for word in re.split(r"[/&+,;]|\band\b|%", _NUMBER_OUT.sub("%", text))
                if word.strip(" ()")
            ]
        else:
            return (), []
        if len(words) != len(shares) or abs(sum(shares) - 100) > 1e-6 or len(shares) < 2:
            return (), []
        names = [self.name(word.strip(" ():")) for word in words]
        parts = tuple(Part(name.code, share=share / 100) for name, share in zip(names, shares, strict=True))
        return parts, names


_INNER = pattern(r"\(([^)]*)\)?")
_NUMBER_OUT = pattern(r"\d{1,3}(?:\.\d+)? ?%")


def _amount(piece: str) -> tuple[str, str, str]:
    """Name, number and unit of a layer."""
    piece = piece.strip(" .()")
    for form in (_AMOUNT_LAST, _AMOUNT_FIRST):
        found = form.fullmatch(piece)
        if found and units.find(found["unit"]) is not None:
            return found["name"].strip(" ,:"), found["number"], found["unit"]
    return piece, "", ""


def _too_long(text: str) -> str:
    return say(
        '"{text}" is too long for media. Type their names and move the rest to a note.', text=cut(text)
    )


def _size(part: Part) -> float:
    return next((value for value in (part.share, part.depth_m, part.volume_m3) if not isnan(value)), 0.0)


def _mesh(text: str) -> str:
    plain_text = normalise(text).replace("mm", "").replace(" ", "")
    return plain_text.removesuffix("in")


def _kind(medium: Medium) -> str:
    """Name of a medium without its mesh, so that meshes of the same kind are told from those of another."""
    return re.sub(r"[\W\d]*\d.*$", "", medium.name).casefold()
