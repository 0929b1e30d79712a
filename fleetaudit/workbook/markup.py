"""XML parts read with their byte offsets, so that an edit replaces bytes and nothing is written anew."""

from __future__ import annotations

import codecs
import re
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from xml.parsers import expat

from msgspec import Struct, field

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT_MAIN = "http://purl.oclc.org/ooxml/spreadsheetml/main"
RELATIONSHIPS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
STRICT_RELATIONSHIPS = "http://purl.oclc.org/ooxml/officeDocument/relationships"

_START_TAG = re.compile(rb"<(?:[^<>\"']|\"[^\"]*\"|'[^']*')*>")
#: bytes of changed content that are handled at a time
_PIECE = 1 << 20
_DECLARED = re.compile(rb"^<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._-]+)[\"']")
_NAMES = {"lt": "<", "gt": ">", "amp": "&", "quot": '"', "apos": "'"}
_REFERENCE = re.compile(r"&(?:#([0-9]+)|#x([0-9a-fA-F]+)|([A-Za-z]+));")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NEEDS_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_CONTROL_BYTES = bytes({*range(1, 32)} - {9, 10})
_SPECIAL_BYTES = bytes(range(1, 32)) + b'&<>"'
_FFFE, _FFFF = "\ufffe".encode(), "\uffff".encode()
_LONGEST_TEXT = 32_767
_LONGEST_NUMBER = 15
_MOST_ELEMENTS = 300_000  # of a tree held in memory; rows, cells and shared texts are not in one


class NotWellFormed(ValueError):
    """The part is not XML that can be read; the caller says which file and part."""


class Element(Struct):
    """One element with the bytes it covers: `<` at start, content from open_end to close, over at end.

    `name` is the local name in the namespace of the root, else "prefix:local".
    """

    name: str
    tag: str
    attributes: dict[str, str]
    start: int
    open_end: int
    close: int = -1
    end: int = -1
    children: list[Element] = field(default_factory=list)
    text: str = ""

    @property
    def self_closed(self) -> bool:
        """Tell `<a/>` from `<a></a>`."""
        return self.close == self.end

    @property
    def prefix(self) -> str:
        """Prefix of the tag with its colon, or nothing."""
        return self.tag[: self.tag.index(":") + 1] if ":" in self.tag else ""

    def find(self, name: str) -> Element | None:
        """First child of that name."""
        return next((child for child in self.children if child.name == name), None)

    def all(self, name: str) -> list[Element]:
        """All children of that name."""
        return [child for child in self.children if child.name == name]

    def walk(self) -> Iterator[Element]:
        """The element and all below it, in document order."""
        yield self
        for child in self.children:
            yield from child.walk()


class Edit(Struct, frozen=True, gc=False):
    """Replace the bytes from start to end by new ones."""

    start: int
    end: int
    new: bytes


def to_utf8(data: bytes) -> tuple[bytes, str]:
    """Content as UTF-8 and the encoding it came in; only UTF-8 and UTF-16 occur in honest workbooks."""
    encoding = "utf-8"
    if data.startswith(codecs.BOM_UTF16_LE) or data.startswith(b"<\0"):
        encoding = "utf-16-le"
    elif data.startswith(codecs.BOM_UTF16_BE) or data.startswith(b"\0<"):
        encoding = "utf-16-be"
    try:
        text = data.decode(encoding) if encoding != "utf-8" else ""
    except UnicodeDecodeError as error:
        raise NotWellFormed("its text cannot be decoded") from error
    plain = text.encode("utf-8") if encoding != "utf-8" else data
    declared = _DECLARED.match(plain.removeprefix(codecs.BOM_UTF8))
    if (
        encoding == "utf-8"
        and declared
        and declared[1].lower() not in (b"utf-8", b"utf8", b"us-ascii", b"ascii")
    ):
        raise NotWellFormed(f"its text is encoded as {declared[1].decode()}")
    return plain, encoding


def from_utf8(data: bytes, encoding: str) -> bytes:
    """Give content back in the encoding it came in; a byte order mark is part of the content."""
    return data if encoding == "utf-8" else data.decode("utf-8").encode(encoding)


def parse(data: bytes) -> Element:
    """Tree of a UTF-8 part with byte offsets; a document type declaration is refused."""
    return TreeBuilder(data).run()


class TreeBuilder:
    """Builds elements from expat's events; a subclass may take some of the events for itself."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.root: Element | None = None
        self.stack: list[Element] = []
        self._root_namespace = ""
        self._elements = 0
        self._texts: list[list[str]] = []
        self.parser = make_parser()
        self.parser.StartElementHandler = self.open_element
        self.parser.EndElementHandler = self.close_element
        self.parser.CharacterDataHandler = self.characters

    def run(self) -> Element:
        """Parse all of the part and give its root."""
        feed(self.parser, self.data, True)
        if self.root is None:
            raise NotWellFormed("it is empty")
        return self.root

    def open_element(self, qualified: str, attributes: dict[str, str]) -> None:
        """Start an element at the parser's present offset."""
        start = self.parser.CurrentByteIndex
        self._elements += 1
        if self._elements > _MOST_ELEMENTS:
            raise NotWellFormed(f"it holds more than {_MOST_ELEMENTS:,} elements")
        namespace, local, prefix = split_name(qualified)
        if self.root is None:
            self._root_namespace = namespace
        tag = f"{prefix}:{local}" if prefix else local
        name = local if namespace == self._root_namespace else f"{prefix or '?'}:{local}"
        element = Element(name, tag, _plain_attributes(attributes), start, tag_end(self.data, start))
        if self.root is None:
            self.root = element
        if self.stack:
            self.stack[-1].children.append(element)
        self.stack.append(element)
        self._texts.append([])

    def close_element(self, _qualified: str) -> None:
        """End the innermost element."""
        element = self.stack.pop()
        element.text = "".join(self._texts.pop())
        if self.data[element.open_end - 2 : element.open_end] == b"/>":
            element.close = element.end = element.open_end
        else:
            element.close = self.parser.CurrentByteIndex
            element.end = self.data.index(b">", element.close) + 1

    def characters(self, text: str) -> None:
        """Collect text of the innermost element."""
        if self._texts:
            self._texts[-1].append(text)


def make_parser() -> expat.XMLParserType:
    """Parser that knows namespaces, keeps prefixes and follows no entity."""
    parser = expat.ParserCreate("utf-8", " ")
    parser.namespace_prefixes = True
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse_doctype
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    return parser


def feed(parser: expat.XMLParserType, data: bytes, last: bool) -> None:
    """Give the parser some bytes and turn its complaint into ours."""
    try:
        parser.Parse(data, last)
    except expat.ExpatError as error:
        raise NotWellFormed(f"its XML breaks off in line {error.lineno}") from error


def _refuse_doctype(*_: Any) -> None:
    raise NotWellFormed("it carries a document type declaration")


def split_name(qualified: str) -> tuple[str, str, str]:
    """Namespace, local name and prefix of a name as the parser gives it."""
    pieces = qualified.split(" ")
    if len(pieces) == 1:
        return "", pieces[0], ""
    return pieces[0], pieces[1], pieces[2] if len(pieces) > 2 else ""


def _plain_attributes(attributes: dict[str, str]) -> dict[str, str]:
    """Attributes by local name; those of the relationships namespace as "r:id" whatever their prefix."""
    plain: dict[str, str] = {}
    for qualified, value in attributes.items():
        namespace, local, prefix = split_name(qualified)
        if namespace in (RELATIONSHIPS, STRICT_RELATIONSHIPS):
            plain[f"r:{local}"] = value
        else:
            plain[f"{prefix}:{local}" if namespace else local] = value
    return plain


def tag_end(data: bytes, start: int) -> int:
    """Offset just after the start tag that begins at `start`."""
    match = _START_TAG.match(data, start)
    if match is None:
        raise NotWellFormed("a tag is not closed")
    return match.end()


def apply(data: bytes, edits: Iterable[Edit]) -> bytes:
    """Content with all edits made; edits must not overlap."""
    return b"".join(applied(data, merged(edits)))


def merged(few: Iterable[Edit], many: Iterable[Edit] = ()) -> Iterator[Edit]:
    """Edits in the order of their places; `many` are in order already and share none with the others."""
    waiting = deque(sorted(few, key=lambda edit: (edit.start, edit.end)))
    for edit in many:
        while waiting and waiting[0].start < edit.start:
            yield waiting.popleft()
        yield edit
    yield from waiting


def applied(data: bytes, edits: Iterable[Edit]) -> Iterator[bytes]:
    """Content with all edits made, which come in order, in pieces that can be handled one after the other."""
    pieces: list[bytes] = []
    position = size = 0
    for edit in edits:
        if edit.start < position:
            raise ValueError("two edits of one part overlap")
        pieces += [data[position : edit.start], edit.new]
        size += edit.start - position + len(edit.new)
        position = edit.end
        if size >= _PIECE:
            yield b"".join(pieces)
            pieces, size = [], 0
    pieces.append(data[position:])
    yield b"".join(pieces)


def with_attribute(tag: bytes, name: str, value: str) -> bytes:
    """Start tag with one unprefixed attribute set; all else of the tag stays as it was."""
    new = b'%s="%s"' % (name.encode(), escape_attribute(value).encode())
    pattern = re.compile(rb"(?<=[\s\"'])" + re.escape(name.encode()) + rb"\s*=\s*(?:\"[^\"]*\"|'[^']*')")
    for match in pattern.finditer(tag):
        before = tag[: match.start()]
        if _outside_quotes(before):
            return before + new + tag[match.end() :]
    close = b"/>" if tag.endswith(b"/>") else b">"
    return tag[: -len(close)].rstrip() + b" " + new + close


def without_attribute(tag: bytes, name: str) -> bytes:
    """Start tag without one unprefixed attribute."""
    pattern = re.compile(rb"\s+" + re.escape(name.encode()) + rb"\s*=\s*(?:\"[^\"]*\"|'[^']*')")
    for match in pattern.finditer(tag):
        if _outside_quotes(tag[: match.start()]):
            return tag[: match.start()] + tag[match.end() :]
    return tag


def _outside_quotes(before: bytes) -> bool:
    inside = b""
    for index in range(len(before)):
        byte = before[index : index + 1]
        if inside:
            inside = b"" if byte == inside else inside
        elif byte in (b'"', b"'"):
            inside = byte
    return not inside


def set_attributes(data: bytes, element: Element, **values: str) -> Edit:
    """Edit that sets attributes in the start tag of an element."""
    tag = data[element.start : element.open_end]
    for name, value in values.items():
        tag = with_attribute(tag, name, value)
    return Edit(element.start, element.open_end, tag)


def prefixed(markup: str, prefix: str) -> bytes:
    """Markup of our own with the prefix (and colon) that the part uses for the main namespace."""
    return (re.sub(r"<(/?)(?=[A-Za-z])", rf"<\1{prefix}", markup) if prefix else markup).encode("utf-8")


def append_child(data: bytes, parent: Element, markup: bytes, **attributes: str) -> list[Edit]:
    """Edits that add markup as the last child of an element and set attributes of the element."""
    tag = data[parent.start : parent.open_end]
    for name, value in attributes.items():
        tag = with_attribute(tag, name, value)
    if parent.self_closed:
        opened = tag[:-2].rstrip() + b">"
        return [Edit(parent.start, parent.end, opened + markup + b"</" + parent.tag.encode() + b">")]
    edits = [Edit(parent.close, parent.close, markup)]
    if attributes:
        edits.append(Edit(parent.start, parent.open_end, tag))
    return edits


def escape_text(text: str) -> str:
    """Text between tags: no control characters, no accidental escapes, no longer than a cell takes."""
    if _CONTROL.search(text):
        text = _CONTROL.sub("\ufffd", text)
    if "_x" in text:
        text = _NEEDS_ESCAPE.sub("_x005F_", text)
    if len(text) > _LONGEST_TEXT:
        text = text[:_LONGEST_TEXT]
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace("\r", "&#13;") if "\r" in text else text


def escape_texts(texts: Sequence[str]) -> list[bytes]:
    """The same as `escape_text` for each text, for all at once where none of them is out of the ordinary."""
    joined = _joined(texts, _CONTROL_BYTES)
    if joined is None or (b"_" in joined and b"_x" in joined) or max(map(len, texts)) > _LONGEST_TEXT:
        return [escape_text(text).encode() for text in texts]
    return joined.replace(b"&", b"&amp;").replace(b"<", b"&lt;").replace(b">", b"&gt;").split(b"\0")


def escape_attributes(texts: Sequence[str]) -> list[bytes]:
    """The same as `escape_attribute` for each text, for all at once where none needs anything escaped."""
    joined = _joined(texts, _SPECIAL_BYTES)
    return joined.split(b"\0") if joined is not None else [escape_attribute(text).encode() for text in texts]


def _joined(texts: Sequence[str], without: bytes) -> bytes | None:
    """Texts with a zero between any two; None where one holds a zero, a byte of `without` or a rare sign."""
    try:
        joined = "\0".join(texts).encode()
    except UnicodeEncodeError:  # half of a pair of code units stands for no character
        return None
    clean = len(joined.translate(None, without)) == len(joined) and joined.count(b"\0") == len(texts) - 1
    # single bytes are looked for first, since that is many times as fast
    rare = b"\xef" in joined and (_FFFE in joined or _FFFF in joined)
    return joined if clean and not rare else None


def escape_attribute(text: str) -> str:
    """Text inside double quotes; white space other than blanks is kept by references."""
    text = _CONTROL.sub("\ufffd", text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace('"', "&quot;").replace("\n", "&#10;").replace("\r", "&#13;").replace("\t", "&#9;")


def whole(text: str) -> int | None:
    """Whole number of an attribute; None for anything else, signs and digits of other scripts included.

    >>> whole("12"), whole("-1"), whole("1.5"), whole("9" * 5000)
    (12, None, None, None)
    """
    return int(text) if len(text) <= _LONGEST_NUMBER and text.isascii() and text.isdigit() else None


def unescape(text: str) -> str:
    """Text as a parser would give it, from the raw characters between two tags."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return _REFERENCE.sub(_resolve, text) if "&" in text else text


def _resolve(match: re.Match[str]) -> str:
    decimal, hexadecimal, name = match.groups()
    if name is not None:
        if name not in _NAMES:
            raise NotWellFormed(f"it uses the unknown entity {name}")
        return _NAMES[name]
    code = (whole(decimal) or 0x110000) if decimal is not None else int(hexadecimal, 16)
    if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF:
        raise NotWellFormed("it refers to a character that does not exist")
    return chr(code)


def unescape_cell(text: str) -> str:
    """Text of a cell with the spreadsheet's own `_xHHHH_` escapes undone, once."""
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text
