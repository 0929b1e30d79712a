"""The zip file around a workbook: limits before reading, counted bytes, checked sums, raw copies."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from msgspec import Struct

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say

MIB = 1 << 20
_LONG, _QUICK_LEVEL = 1 << 20, 1
_SLICE = 1 << 16
_USUAL_RATIO = 8
_LEVEL = 2  # two fifths of the time of the usual level for a quarter more bytes
_FIXED_TIME = (1980, 1, 1, 0, 0, 0)
_LOCAL = struct.Struct("<4s5H3L2H")
_CENTRAL = struct.Struct("<4s4B4H3L5H2L")
_END = struct.Struct("<4s4H2LH")
_UTF8_NAME = 0x800
_ENCRYPTED = 0x1
_STORED, _DEFLATED = zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED
_DOCTYPE = b"<!DOCTYPE"
_ASIDE = ((b"<!--", b"-->"), (b"<?", b"?>"))
_ROOT = re.compile(rb"<[A-Za-z_]")


class Limits(Struct, frozen=True):
    """What a file may ask of this machine; a larger fleet may raise them."""

    rows: int = 200_000
    columns: int = 16_384
    cells: int = 20_000_000
    total_bytes: int = 1 << 30
    part_bytes: int = 1 << 28
    ratio: int = 400
    ratio_from_bytes: int = MIB
    ratio_of_large: int = 100
    large_from_bytes: int = 1 << 26
    members: int = 10_000


class RawMember(Struct, frozen=True):
    """One member as it lies in a zip file: compressed bytes and what the directory says of them."""

    name: str
    packed: bytes
    method: int
    crc: int
    size: int
    time: tuple[int, int, int, int, int, int]
    utf8_name: bool
    attributes: int


class Package:
    """A workbook's zip file, held in memory; nothing in it is ever extracted by name."""

    def __init__(self, source: Path | bytes, limits: Limits | None = None, *, label: str = "") -> None:
        self.limits = limits or Limits()
        self.label = label or (source.name if isinstance(source, Path) else "file")
        self.data = load(source, self.limits) if isinstance(source, Path) else source
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(self.data))
        except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, struct.error) as error:
            raise self.damaged("its list of parts cannot be read") from error
        self._members = {info.filename: info for info in self._zip.infolist()}
        self._check_directory()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._zip.close()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all parts, in the order of the zip directory."""
        return tuple(self._members)

    def __contains__(self, name: str) -> bool:
        return name in self._members

    def damaged(self, what: str) -> WorkbookError:
        """Sentence for a file whose inside does not hold together."""
        return WorkbookError(
            say(
                "{label} is damaged ({what}). Open and repair it in your spreadsheet program, then save.",
                label=self.label,
                what=say(what),
            )
        )

    def unsafe(self, what: str) -> WorkbookError:
        """Sentence for a file that asks for more than an honest workbook would."""
        return WorkbookError(
            say(
                "{label} was not opened: {what}. If it is a real workbook, save it anew from "
                "your spreadsheet program.",
                label=self.label,
                what=say(what),
            )
        )

    def _check_directory(self) -> None:
        members = self._zip.infolist()
        if len(members) > self.limits.members:
            raise self.unsafe(
                say(
                    "it holds {count:,} parts, more than {most:,}",
                    count=len(members),
                    most=self.limits.members,
                )
            )
        seen: dict[str, str] = {}
        for info in members:
            folded = info.filename.casefold()
            if folded in seen:
                raise self.unsafe(say('it holds two parts named "{part}"', part=info.filename))
            seen[folded] = info.filename
            self._check_member(info)
        total = sum(info.file_size for info in members)
        if total > self.limits.total_bytes:
            raise self.unsafe(
                say(
                    "it unpacks to {size:,.0f} MiB, more than {most:,.0f} MiB",
                    size=total / MIB,
                    most=self.limits.total_bytes / MIB,
                )
            )

    def _check_member(self, info: zipfile.ZipInfo) -> None:
        if info.flag_bits & _ENCRYPTED:
            raise WorkbookError(
                say(
                    '{label} is protected by a password (part "{part}"). Remove the password in '
                    "your spreadsheet program and save it again.",
                    label=self.label,
                    part=info.filename,
                )
            )
        if info.compress_type not in (_STORED, _DEFLATED):
            raise self.unsafe(
                say(
                    'part "{part}" is packed by method {method}, which no workbook uses',
                    part=info.filename,
                    method=info.compress_type,
                )
            )
        ratio, limits = info.file_size / max(info.compress_size, 1), self.limits
        most = limits.ratio_of_large if info.file_size > limits.large_from_bytes else limits.ratio
        if info.file_size > limits.ratio_from_bytes and ratio > most:
            raise self.unsafe(
                say(
                    'part "{part}" grows {ratio:,.0f} times when unpacked, more than {most:,}',
                    part=info.filename,
                    ratio=ratio,
                    most=most,
                )
            )

    def raw(self, name: str) -> RawMember:
        """Compressed bytes of a part, after its size and sum were checked by unpacking it."""
        packed, info = self._packed(name)
        for _ in self.pieces(name):
            pass
        utf8 = bool(info.flag_bits & _UTF8_NAME)
        return RawMember(
            name=name,
            packed=packed,
            method=info.compress_type,
            crc=info.CRC,
            size=info.file_size,
            time=info.date_time,
            utf8_name=utf8,
            attributes=info.external_attr,
        )

    def read(self, name: str) -> bytes:
        """Content of a part; its size and sum must be what the directory declares."""
        packed, info = self._packed(name)
        if info.file_size > self.limits.part_bytes:
            raise self.unsafe(
                say(
                    'part "{part}" unpacks to {size:,.0f} MiB, more than {most:,.0f} MiB',
                    part=name,
                    size=info.file_size / MIB,
                    most=self.limits.part_bytes / MIB,
                )
            )
        content = _with_room(info.file_size)
        for piece in self._unpacked(packed, info):
            content.write(piece)
        return content.getvalue()

    def size(self, name: str) -> int:
        """Unpacked size of a part as the directory declares it."""
        return self._members[name].file_size

    def refuse_doctypes(self) -> None:
        """Refuse a document type declaration in any part, before anything is parsed."""
        for name in self._members:
            if name.endswith((".xml", ".rels", ".vml")) and self._declares_type(self.peek(name, 4096), name):
                raise self.unsafe(say('part "{part}" carries a document type declaration', part=name))

    def _declares_type(self, head: bytes, name: str) -> bool:
        plain = _before_root(head)
        if plain is None and self._members[name].file_size > len(head):
            plain = _before_root(self.read(name))
        return plain is not None and _DOCTYPE in plain.upper()

    def peek(self, name: str, count: int) -> bytes:
        """First bytes of a part, for looking at; neither size nor sum is checked."""
        packed, info = self._packed(name)
        if info.compress_type == _STORED:
            return packed[:count]
        try:
            return zlib.decompressobj(-zlib.MAX_WBITS).decompress(packed, count)
        except zlib.error as error:
            raise self.damaged(say('part "{part}" cannot be unpacked', part=name)) from error

    def _packed(self, name: str) -> tuple[bytes, zipfile.ZipInfo]:
        info = self._members[name]
        start = info.header_offset
        header = self.data[start : start + _LOCAL.size]
        if start < 0 or len(header) < _LOCAL.size or header[:4] != b"PK\x03\x04":
            raise self.damaged(say('part "{part}" is not where the list of parts says', part=name))
        fields = _LOCAL.unpack(header)
        told = self.data[start + _LOCAL.size : start + _LOCAL.size + fields[9]]
        if told.decode("utf-8" if fields[2] & _UTF8_NAME else "cp437", "replace") != info.orig_filename:
            raise self.damaged(
                say('part "{part}" has another name where it lies than in the list of parts', part=name)
            )
        begin = start + _LOCAL.size + fields[9] + fields[10]
        packed = self.data[begin : begin + info.compress_size]
        if len(packed) < info.compress_size:
            raise self.damaged(say('part "{part}" is cut off', part=name))
        return packed, info

    def pieces(self, name: str) -> Iterator[bytes]:
        """Content of a part piece by piece, never held whole; checked as by `read` once all is taken."""
        return self._unpacked(*self._packed(name))

    def _unpacked(self, packed: bytes, info: zipfile.ZipInfo) -> Iterator[bytes]:
        if info.compress_type == _STORED:
            self._compare(info, len(packed), zlib.crc32(packed))
            yield packed
            return
        quick = _quick_zlib(info.file_size)
        unpacker, size, crc = quick.decompressobj(-zlib.MAX_WBITS), 0, 0
        position, rest = 0, b""
        while not unpacker.eof:
            if not rest:  # what is not yet unpacked is handed over anew each time, so it comes in slices
                rest, position = packed[position : position + _SLICE], position + _SLICE
            try:
                piece = unpacker.decompress(rest, MIB)
            except (zlib.error, quick.error) as error:
                what = say('part "{part}" cannot be unpacked', part=info.filename)
                raise self.damaged(what) from error
            rest = unpacker.unconsumed_tail
            size, crc = size + len(piece), quick.crc32(piece, crc)
            if size > info.file_size:
                raise self.damaged(say('part "{part}" is larger than it claims', part=info.filename))
            if not piece and not rest and position >= len(packed):
                break
            yield piece
        self._compare(info, size, crc)

    def _compare(self, info: zipfile.ZipInfo, size: int, crc: int) -> None:
        if size != info.file_size:
            raise self.damaged(say('part "{part}" does not have the size it claims', part=info.filename))
        if crc != info.CRC:
            raise self.damaged(say('the check sum of part "{part}" is wrong', part=info.filename))


def _before_root(data: bytes) -> bytes | None:
    """What stands before the root element, without comments; None when the root has not been reached."""
    plain, kept, position = data.replace(b"\0", b""), bytearray(), 0
    while True:
        found = plain.find(b"<", position)
        if found < 0:
            break
        kept += plain[position:found]
        if _ROOT.match(plain, found):
            return bytes(kept)
        closing = next((end for start, end in _ASIDE if plain.startswith(start, found)), b"")
        end = plain.find(closing, found + 2) if closing else found + 1
        if end < 0:
            break
        kept += b"" if closing else plain[found:end]
        position = end + len(closing)
    return bytes(kept) if _DOCTYPE in kept.upper() else None


def load(path: Path, limits: Limits) -> bytes:
    """Read a whole file; one larger than all its parts may be is refused unread."""
    if path.stat().st_size > limits.total_bytes:
        raise WorkbookError(
            say(
                "{name} is larger than {most:,.0f} MiB and was not opened. Keep the units "
                "in a workbook of their own.",
                name=path.name,
                most=limits.total_bytes / MIB,
            )
        )
    try:
        return path.read_bytes()
    except PermissionError as error:
        raise WorkbookError(
            say(
                "{name} cannot be read: permission denied. Close it elsewhere or ask for access.",
                name=path.name,
            )
        ) from error
    except OSError as error:
        raise WorkbookError(
            say(
                "{name} cannot be read: {reason}. Copy it to a local folder.",
                name=path.name,
                reason=error.strerror,
            )
        ) from error


def packed(name: str, content: bytes) -> RawMember:
    """Pack a part of our own; the same content always gives the same bytes."""
    return packed_pieces(name, [content], len(content))


def packed_pieces(name: str, pieces: Iterable[bytes], about: int) -> RawMember:
    """Pack a part of our own that is `about` so long, piece by piece, so that it is never held whole."""
    library = _quick_zlib(about)
    level = _LEVEL if library is zlib else _QUICK_LEVEL
    squeezer = library.compressobj(level, zlib.DEFLATED, -zlib.MAX_WBITS)
    data, size, crc = _with_room(about // _USUAL_RATIO), 0, 0
    for piece in pieces:
        data.write(squeezer.compress(piece))
        size, crc = size + len(piece), library.crc32(piece, crc)
    data.write(squeezer.flush())
    data.truncate()
    return RawMember(
        name=name,
        packed=data.getvalue(),
        method=_DEFLATED,
        crc=crc,
        size=size,
        time=_FIXED_TIME,
        utf8_name=not name.isascii(),
        attributes=0,
    )


def _with_room(size: int) -> io.BytesIO:
    """Empty buffer with room for so much.

    One that grows step by step, and pieces kept beside passing ones, leave holes in memory that nothing fits.
    """
    buffer = io.BytesIO()
    if size:
        buffer.seek(size - 1)
        buffer.write(b"\0")
        buffer.seek(0)
    return buffer


def _quick_zlib(size: int) -> Any:
    """What packs and unpacks so much content; for what is long a quicker library, where there is one."""
    if size > _LONG:
        try:
            from isal import isal_zlib  # noqa: PLC0415  not worth loading for what is short
        except ImportError:  # no such library for this machine
            pass
        else:
            return isal_zlib
    return zlib


def zip_chunks(members: Iterable[RawMember]) -> Iterator[bytes]:
    """Bytes of a zip file with these members, in this order, piece by piece."""
    directory: list[bytes] = []
    offset = 0
    for member in members:
        name = member.name.encode("utf-8" if member.utf8_name else "cp437")
        year, month, day, hour, minute, second = member.time
        clock = hour << 11 | minute << 5 | second // 2
        date = max(year - 1980, 0) << 9 | month << 5 | day
        flags = _UTF8_NAME if member.utf8_name else 0
        sizes = (member.crc, len(member.packed), member.size)
        local = _LOCAL.pack(b"PK\x03\x04", 20, flags, member.method, clock, date, *sizes, len(name), 0) + name
        central = (b"PK\x01\x02", 20, 0, 20, 0, flags, member.method, clock, date, *sizes, len(name))
        directory.append(_CENTRAL.pack(*central, 0, 0, 0, 0, member.attributes, offset) + name)
        yield local
        yield member.packed
        offset += len(local) + len(member.packed)
    table = b"".join(directory)
    yield table
    yield _END.pack(b"PK\x05\x06", 0, 0, len(directory), len(directory), len(table), offset, 0)
