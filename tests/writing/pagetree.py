"""A page as a tree, read the way browsers read it as far as the summary needs: end tags may be left out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html.parser import HTMLParser

VOID = {"meta", "input", "br", "img", "link", "hr", "rect", "circle", "path"}
CLOSED_BY = {
    "td": {"td", "th"},
    "th": {"td", "th"},
    "tr": {"td", "th", "tr"},
    "tbody": {"td", "th", "tr", "tbody", "thead"},
    "p": {"p"},
    "li": {"li"},
    "option": {"option"},
    "dt": {"dt", "dd"},
    "dd": {"dt", "dd"},
    "details": {"p"},
}
FENCES = {"table", "ul", "ol", "details", "div", "section", "dl", "svg", "figure"}


class Node:
    """One element."""

    def __init__(self, tag: str, attributes: dict[str, str | None], parent: Node | None) -> None:
        self.tag, self.attributes, self.parent = tag, attributes, parent
        self.content: list[Node | str] = []

    def get(self, name: str) -> str | None:
        return self.attributes.get(name)

    @property
    def classes(self) -> set[str]:
        return set((self.get("class") or "").split())

    @property
    def text(self) -> str:
        return "".join(part if isinstance(part, str) else part.text for part in self.content)

    def walk(self) -> Iterator[Node]:
        for part in self.content:
            if isinstance(part, Node):
                yield part
                yield from part.walk()

    def all(self, *tags: str, kind: str = "") -> list[Node]:
        """Elements below with one of the tags (any where none is given) and the class."""
        return [n for n in self.walk() if (not tags or n.tag in tags) and (not kind or kind in n.classes)]

    def one(self, *tags: str, kind: str = "") -> Node:
        return self.all(*tags, kind=kind)[0]

    def by_id(self, wanted: str) -> Node:
        found = [node for node in self.walk() if node.get("id") == wanted]
        assert len(found) == 1, f"{len(found)} elements have the id {wanted}"
        return found[0]


def opened(row: Node, root: Node) -> list[str]:
    """Paragraphs of an opened finding, those named by number put together again as the script does."""
    shared = [sentence.text for sentence in root.by_id("said").all("li")]
    paragraphs: list[str] = []
    for part in row.one("details").content:
        if isinstance(part, Node):
            paragraphs += [part.text] if part.tag == "p" else []
            continue
        paragraphs += filled(part, shared)
    return paragraphs


def filled(short: str, shared: Sequence[str]) -> list[str]:
    """Sentences named by number, with their figures in the gaps."""
    sentences = []
    for piece in short.split("§")[1:]:
        number, *figures = piece.split()
        start, *rest = shared[int(number) - 1].split("…")
        sentences.append(start + "".join(figure + part for figure, part in zip(figures, rest, strict=True)))
    return sentences


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.root = self.open = Node("", {}, None)

    def handle_starttag(self, tag, attrs):
        ended = CLOSED_BY.get(tag, set())
        at: Node | None = self.open
        while at is not None and at.tag not in FENCES:
            if at.tag in ended and at.parent is not None:
                self.open = at.parent
            at = at.parent
        node = Node(tag, dict(attrs), self.open)
        self.open.content.append(node)
        if tag not in VOID:
            self.open = node

    def handle_startendtag(self, tag, attrs):
        self.open.content.append(Node(tag, dict(attrs), self.open))

    def handle_endtag(self, tag):
        at: Node | None = self.open
        while at is not None and at.tag != tag:
            at = at.parent
        if at is not None and at.parent is not None:
            self.open = at.parent

    def handle_data(self, data):
        self.open.content.append(data)


def tree(page: str) -> Node:
    """Root element of a page."""
    builder = _Builder()
    builder.feed(page)
    builder.close()
    return next(node for node in builder.root.content if isinstance(node, Node))
