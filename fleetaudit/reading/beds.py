"""What fills each vessel: medium, mesh, layers and purpose, and whether it is a backwashing bed at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

import numpy as np

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts.frame import Codes, Frame, Layer
from fleetaudit.language import say
from fleetaudit.reading import grammar
from fleetaudit.reading.cells import Filled, Strip, Trouble, report_trouble, spread, texts_of
from fleetaudit.reading.cells import Reading as Readings
from fleetaudit.reading.media import MediumReading, Part, Reader
from fleetaudit.reading.plain import plain, shown
from fleetaudit.reading.purposes import Purposes, purposes_in
from fleetaudit.reading.remarks import CELLS, Log
from fleetaudit.reading.sizes import no_bed
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.remark import Level

Note = Callable[[Column, Strip, Filled], None]
BED = "bed"
MESH_STATED = "mesh_stated"


def read(frame: Frame, strips: Mapping[str, Strip], catalogue: Catalogue, log: Log, note: Note) -> None:
    """Fill medium, mesh, layers, purpose and bed of a frame whose vessel sizes are read."""
    beds = _Beds(frame, strips, catalogue, log, note)
    beds.media()
    beds.layers()
    beds.purposes()
    beds.say_what_is_no_bed()


class _Beds:
    def __init__(
        self, frame: Frame, strips: Mapping[str, Strip], catalogue: Catalogue, log: Log, note: Note
    ) -> None:
        self.frame, self.catalogue, self.log, self.note = frame, catalogue, log, note
        self.reader = Reader(catalogue)
        self.medium, self.mesh = strips.get(fleet.MEDIUM.name), strips.get(fleet.MESH.name)
        self.layered, self.purpose, self.kind = (
            strips.get(column.name) for column in (fleet.LAYERS, fleet.PURPOSE, fleet.KIND)
        )
        self.size = strips.get(fleet.SIZE.name)
        self.groups: dict[str, int] = {}
        self.told: dict[str, tuple[MediumReading, str, list[Codes]]] = {}
        self.bed = np.full(frame.units, -1, dtype=np.int64)

    def media(self) -> None:
        """Codes of the medium column, with the mesh of its own column."""
        self._kinds()
        strip = self.medium
        if strip is None:
            return
        mesh_texts, odd_mesh = self._mesh_texts()
        pair = strip.index.astype(np.int64) * (len(mesh_texts) + 1)
        pair += self.mesh.index if self.mesh is not None else 0
        pairs, inverse = np.unique(pair, return_inverse=True)
        units = _grouped(inverse, len(pairs))
        found, stated = [], []
        for number, key in enumerate(pairs.tolist()):
            which, mesh = divmod(key, len(mesh_texts) + 1)
            reading = self._one(strip, which, mesh_texts[mesh] if mesh_texts else "", units[number])
            stated.append(reading.missing is Missing.KNOWN and not reading.usual_mesh)
            if mesh in odd_mesh and reading.missing is Missing.KNOWN and reading.usual_mesh:
                reading = MediumReading(reading.code, Origin.GUESSED, parts=reading.parts)
            found.append(reading)
        filled = self._filled(found, inverse)
        self.frame.codes[fleet.MEDIUM.name] = np.array([one.code for one in found], dtype=np.int64)[inverse]
        self.frame.texts[fleet.MEDIUM.key] = texts_of(strip)
        self.frame.codes[MESH_STATED] = np.array(stated, dtype=np.int64)[inverse]
        for number, one in enumerate(found):
            if one.parts:
                self._set_layers(units[number], one.parts)
            if one.non_bed:
                self.groups[one.non_bed] = self.groups.get(one.non_bed, 0) + int(
                    (self.bed[units[number]] != 0).sum()
                )
                self.bed[units[number]] = 0
        self.bed[(self.frame.codes[fleet.MEDIUM.name] >= 0) & (self.bed != 0)] = 1
        understood = (self.bed == 0) & (filled.missing == Missing.NOT_IN_CATALOGUE)
        filled.missing[understood] = int(Missing.KNOWN)
        taken = strip.filled_in & (filled.missing == Missing.KNOWN) & (filled.origin == Origin.TYPED)
        self.note(
            fleet.MEDIUM,
            strip,
            Filled(filled.value, np.where(taken, int(Origin.FILLED), filled.origin), filled.missing),
        )
        self._say_media(strip)
        self._say_usual_mesh(strip, found, units)

    def _filled(self, found: list[MediumReading], inverse: Codes) -> Filled:
        parts = (
            [float(one.code) for one in found],
            [one.origin for one in found],
            [one.missing for one in found],
        )
        value, origin, missing = (np.array(part)[inverse] for part in parts)
        return Filled(value, origin.astype(np.int64), missing.astype(np.int64))

    def _one(self, strip: Strip, which: int, mesh: str, units: Codes) -> MediumReading:
        cell = strip.distinct[which]
        if cell.value is None:
            return MediumReading(missing=Missing.BLANK)
        if isinstance(cell.value, Trouble):
            return MediumReading(missing=report_trouble(strip, which, self.log) or Missing.UNREADABLE)
        reading = self.reader.read(shown(cell.value), mesh)
        judged = units[self.bed[units] != 0]
        if reading.told and len(judged):
            self.told.setdefault(reading.told, (reading, cell.shown, []))[2].append(judged)
        return reading

    def _say_media(self, strip: Strip) -> None:
        for told, (reading, text, units) in self.told.items():
            guessed = reading.missing is Missing.KNOWN
            self.log.add(
                Level.WARN if guessed else Level.SKIP,
                "guessed-medium" if guessed else "unknown-medium",
                "{cells} " + told,
                self.log.cells(strip.rows[np.sort(np.concatenate(units))], strip.number),
                read=text,
                assumed=reading.assumed,
                effect="findings that rest on it are likely at most"
                if guessed
                else "the unit cannot be judged",
                column=fleet.MEDIUM.name,
            )

    def _mesh_texts(self) -> tuple[list[str], set[int]]:
        """Text of each distinct mesh, and those that are there but cannot be read."""
        strip = self.mesh
        if strip is None:
            return [], set()
        readings, odd = Readings.empty(len(strip.distinct)), set()
        for which, cell in enumerate(strip.distinct):
            missing = report_trouble(strip, which, self.log)
            if isinstance(cell.value, date):
                missing = Missing.UNREADABLE
                self.log.add(
                    Level.SKIP,
                    "mesh-became-date",
                    say(
                        "{cells} mesh holds the date {shown}, which the spreadsheet made of what was "
                        "typed. Was it {month}x{year:02d} or {month}x{day}? Set the cell to text and "
                        "type it again.",
                        cells=CELLS,
                        shown=cell.shown,
                        month=cell.value.month,
                        year=cell.value.year % 100,
                        day=cell.value.day,
                    ),
                    strip.cells(self.log, which),
                    read=cell.shown,
                    assumed="the usual mesh",
                    column=strip.column.name,
                )
            if missing is not None:
                readings.lost(which, missing)
                odd.add(which)
            elif cell.value is not None and not grammar.says_nothing(plain(shown(cell.value))):
                readings.known(which, 0.0, Origin.TYPED)
        self.note(fleet.MESH, strip, spread(strip, readings))
        self.frame.texts[fleet.MESH.key] = texts_of(strip)
        return ["" if which in odd else shown(cell.value) for which, cell in enumerate(strip.distinct)], odd

    def _say_usual_mesh(self, strip: Strip, found: list[MediumReading], units: list[Codes]) -> None:
        for code in sorted({one.code for one in found if one.usual_mesh}):
            rows = np.sort(
                np.concatenate(
                    [units[n] for n, one in enumerate(found) if one.usual_mesh and one.code == code]
                )
            )
            medium = self.catalogue.media[code]
            self.log.add(
                Level.INFO,
                "usual-mesh",
                say(
                    "{cells}: {rows:,} units name {family} without a mesh; {mesh} taken.",
                    cells=CELLS,
                    rows=len(rows),
                    family=say(medium.family),
                    mesh=medium.mesh,
                ),
                self.log.cells(strip.rows[rows], strip.number),
                read=say("no mesh"),
                assumed=medium.mesh,
                effect="the backwash flow needed",
                column=fleet.MESH.name,
            )

    def _kinds(self) -> None:
        """Mark units whose kind, or what stands in place of their size, is no backwashing bed."""
        for strip in (self.kind, self.size):
            for which, cell in enumerate(strip.distinct if strip is not None else ()):
                group = no_bed(plain(cell.value), self.catalogue) if isinstance(cell.value, str) else ""
                if strip is not None and group:
                    units = strip.places(which)
                    units = units[self.bed[units] != 0]
                    self.groups[group] = self.groups.get(group, 0) + len(units)
                    self.bed[units] = 0

    def layers(self) -> None:
        """Layers of their own column, which go before layers written as the medium."""
        strip = self.layered
        if strip is None:
            self.frame.codes[BED] = self.bed
            return
        readings = Readings.empty(len(strip.distinct))
        for which, cell in enumerate(strip.distinct):
            missing = report_trouble(strip, which, self.log)
            if missing is not None:
                readings.lost(which, missing)
            elif cell.value is not None:
                self._layers_of(strip, which, readings)
        self.note(fleet.LAYERS, strip, spread(strip, readings))
        self.frame.texts[fleet.LAYERS.key] = texts_of(strip)
        self.frame.codes[BED] = self.bed

    def _layers_of(self, strip: Strip, which: int, readings: Readings) -> None:
        cell = strip.distinct[which]
        one = self.reader.layers(shown(cell.value))
        if one.missing is Missing.BLANK:
            return
        if one.missing is Missing.KNOWN:
            units = strip.places(which)
            readings.known(which, 0.0, one.origin)
            self._set_layers(units, one.parts)
            self.bed[units[self.bed[units] != 0]] = 1
        else:
            readings.lost(which, one.missing)
        if one.told:
            guessed = one.missing is Missing.KNOWN
            self.log.add(
                Level.WARN if guessed else Level.SKIP,
                "guessed-medium" if guessed else "unread-layers",
                "{cells} " + one.told,
                strip.cells(self.log, which),
                read=cell.shown,
                assumed=one.assumed,
                column=fleet.LAYERS.name,
            )

    def _set_layers(self, units: Codes, parts: tuple[Part, ...]) -> None:
        """Give units their layers; a volume becomes a depth by the area of the unit's own vessel."""
        inside = self.frame.number(fleet.INSIDE)
        diameter = np.where(np.isnan(inside), self.frame.number(fleet.DIAMETER), inside)
        if len(parts) == 1 and np.isnan(parts[0].depth_m):
            return
        for unit in units.tolist():
            area = np.pi / 4 * diameter[unit] ** 2
            self.frame.layers[unit] = tuple(
                Layer(
                    part.code,
                    part.volume_m3 / area if not np.isnan(part.volume_m3) else part.depth_m,
                    part.share,
                )
                for part in parts
            )

    def purposes(self) -> None:
        """Codes of what units are there to take out; each stands for all purposes of a cell together."""
        strip = self.purpose
        if strip is None:
            return
        readings, codes = Readings.empty(len(strip.distinct)), []
        together: dict[tuple[int, ...], int] = {}
        for which, cell in enumerate(strip.distinct):
            missing, code = report_trouble(strip, which, self.log), -1
            if missing is not None:
                readings.lost(which, missing)
            elif cell.value is not None and not grammar.says_nothing(plain(shown(cell.value))):
                named = purposes_in(self.catalogue, plain(shown(cell.value)))
                if named.keys:
                    purposes = tuple(self.catalogue.purpose_codes[key] for key in named.keys)
                    code = together.setdefault(purposes, len(together))
                    readings.known(which, float(code), Origin.TYPED)
                    if named.unknown:
                        self._partly_unknown_purpose(strip, which, named)
                else:
                    readings.lost(which, Missing.NOT_IN_CATALOGUE)
                    self._unknown_purpose(strip, which)
            codes.append(code)
        self.note(fleet.PURPOSE, strip, spread(strip, readings))
        self.frame.codes[fleet.PURPOSE.name] = np.array(codes, dtype=np.int64)[strip.index]
        self.frame.purposes = tuple(together)
        self.frame.texts[fleet.PURPOSE.key] = texts_of(strip)

    def _partly_unknown_purpose(self, strip: Strip, which: int, named: Purposes) -> None:
        shown_text = strip.distinct[which].shown
        left = ", ".join(named.unknown)
        self.log.add(
            Level.WARN,
            "purpose-partly-unknown",
            say(
                '{cells} "{left}" in the purpose "{text}" is not known and does not count; the rest of the '
                "cell does.",
                cells=CELLS,
                left=left,
                text=shown_text,
            ),
            strip.cells(self.log, which),
            read=shown_text,
            assumed=", ".join(named.keys),
            effect="life by purpose and the guard of health rest on the rest of the cell",
            column=fleet.PURPOSE.name,
        )

    def _unknown_purpose(self, strip: Strip, which: int) -> None:
        shown_text = strip.distinct[which].shown
        self.log.add(
            Level.SKIP,
            "unknown-purpose",
            say(
                '{cells} purpose "{text}" is not known. Type one such as chlorine, iron, '
                "hardness or arsenic.",
                cells=CELLS,
                text=shown_text,
            ),
            strip.cells(self.log, which),
            read=shown_text,
            effect="life by purpose and the guard of health are not known",
            column=fleet.PURPOSE.name,
        )

    def say_what_is_no_bed(self) -> None:
        """Count the rows that are no backwashing bed."""
        if self.groups:
            total = int((self.bed == 0).sum())
            listed = ", ".join(f"{name} {count}" for name, count in sorted(self.groups.items()))
            self.log.add(
                Level.INFO,
                "no-bed",
                say(
                    "{total:,} rows are no backwashing bed and are counted only: {listed}.",
                    total=total,
                    listed=listed,
                ),
            )


def _grouped(inverse: Codes, count: int) -> list[Codes]:
    order = np.argsort(inverse, kind="stable")
    edges = np.searchsorted(inverse[order], np.arange(count + 1))
    return [order[edges[place] : edges[place + 1]] for place in range(count)]
