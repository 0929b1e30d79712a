"""Rules of the code base that no type checker sees: names spelled once, limits kept in data, fair words."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from fleetaudit.schema.fleet import COLUMNS

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "fleetaudit"
MODULES = sorted(path for path in PACKAGE.rglob("*.py"))

#: settings of the catalogue, a few of which are called like a column
SETTINGS = set(tomllib.loads((PACKAGE / "data" / "settings.toml").read_text(encoding="utf-8"))["settings"])
#: names of columns that no sentence or other structure would hold by chance
COLUMN_NAMES = {name for column in COLUMNS for name in (column.name, column.key) if "_" in name} - SETTINGS
#: places with a vocabulary of their own in which some words are the same: figures of the catalogue, fields of
#: the report's records, and the keys of the document for other programs, fixed by contract
OWN_WORDS = ("catalogue", "report_workbook.py", "results_json.py")
#: none of these is a limit: nothing, one, and the two of halving and squaring
ARITHMETIC = (0, 1, 2)

#: words that would turn a list of faults into a table of people
UNFAIR = re.compile(
    r"\b(worst|guilty|guilt|league|culprits?|blame[ds]?|bad[ -]crews?|rank(?:s|ed|ings?)?)\b", re.IGNORECASE
)


def _relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def _strings(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every string of a module that is no docstring, with its line."""
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            yield node.lineno, node.value


def _named_constants(tree: ast.Module) -> set[int]:
    """Ids of all nodes that belong to an upper-case assignment at the top of the module or of a class."""
    bodies = [tree.body, *(node.body for node in tree.body if isinstance(node, ast.ClassDef))]
    inside: set[int] = set()
    for statement in (statement for body in bodies for statement in body):
        targets = (
            statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
        )
        if all(isinstance(target, ast.Name) and target.id.strip("_").isupper() for target in targets):
            inside |= {id(node) for node in ast.walk(statement)}
    return inside


def _bare_numbers(source: str) -> list[tuple[int, float]]:
    tree = ast.parse(source)
    named = _named_constants(tree)
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and not isinstance(node.value, bool)
        and node.value not in ARITHMETIC
        and id(node) not in named
    ]


def _column_names(source: str) -> list[tuple[int, str]]:
    return [(line, text) for line, text in _strings(ast.parse(source)) if text in COLUMN_NAMES]


def _unfair_words(source: str) -> list[tuple[int, str]]:
    tree = ast.parse(source)
    names = {node.name for node in ast.walk(tree) if isinstance(node, ast.alias | ast.ClassDef)}
    return [
        (line, text)
        for line, text in _strings(tree)
        if UNFAIR.search(text) and not text.startswith("fleetaudit.") and text not in names
    ]


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_columns_are_spelled_in_the_schema_only(path: Path) -> None:
    if path.parent.name == "schema" or path.parent.name in OWN_WORDS or path.name in OWN_WORDS:
        return
    assert _column_names(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if path.parent.name in ("checks", "facts") or path.name == "ranking.py"],
    ids=_relative,
)
def test_limits_are_not_kept_in_code(path: Path) -> None:
    assert _bare_numbers(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_sentences_accuse_nobody(path: Path) -> None:
    assert _unfair_words(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "path",
    sorted(
        path for path in (ROOT / "templates").rglob("*") if path.suffix in (".j2", ".html", ".css", ".js")
    ),
    ids=_relative,
)
def test_templates_accuse_nobody(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert [(text[: found.start()].count("\n") + 1, found.group()) for found in UNFAIR.finditer(text)] == []


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_only_the_command_line_looks_at_the_clock(path: Path) -> None:
    if path.parent.name in ("cli", "web"):
        return
    calls = [
        (node.lineno, ast.unparse(node.func))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and re.fullmatch(
            r"(datetime\.)?(date|datetime)\.(today|now|utcnow)|time\.time", ast.unparse(node.func)
        )
    ]
    assert calls == []


@pytest.mark.parametrize(
    "path", [path for path in MODULES if path.name == "__init__.py" and path.parent != PACKAGE], ids=_relative
)
def test_inner_packages_only_say_what_they_are(path: Path) -> None:
    body = ast.parse(path.read_text(encoding="utf-8")).body
    assert len(body) == 1
    assert isinstance(body[0], ast.Expr)
    assert isinstance(body[0].value, ast.Constant)
    assert isinstance(body[0].value.value, str)


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_modules_are_named_after_their_subject(path: Path) -> None:
    assert path.stem not in ("utils", "util", "common", "misc", "core", "helpers", "base")


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_a_silenced_warning_says_why(path: Path) -> None:
    silenced = re.compile(r"#\s*(noqa|type:\s*ignore)(:?\s*[A-Z]+\d+(,\s*[A-Z]+\d+)*|\[[\w, -]+\])?")
    bare = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        found = silenced.search(line)
        if found and len(line[found.end() :].strip(" -").split()) < 2:
            bare.append((number, line.strip()))
    assert bare == []


def _endless_caches(source: str) -> list[tuple[int, str]]:
    """Memories that grow with every new argument: of functions that take one, and have no size."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        takes = node.args
        arguments = [*takes.posonlyargs, *takes.args, *takes.kwonlyargs, takes.vararg, takes.kwarg]
        for decorator in node.decorator_list:
            name = ast.unparse(decorator).removeprefix("functools.")
            if name == "cache" or re.fullmatch(r"lru_cache\((maxsize=)?None\b.*\)", name):
                found += [(node.lineno, node.name)] if any(arguments) else []
    return found


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_every_memory_of_what_was_asked_has_a_size(path: Path) -> None:
    """A server that runs for months must not keep every word that anybody ever typed."""
    assert _endless_caches(path.read_text(encoding="utf-8")) == []


#: where a person waits for an answer: the last line of defence keeps the details in a file and says so
LAST_LINES = ("fleetaudit/cli/main.py", "fleetaudit/cli/open.py", "fleetaudit/web/jobs.py")


@pytest.mark.parametrize("path", MODULES, ids=_relative)
def test_no_error_is_swallowed_whole(path: Path) -> None:
    if _relative(path) in LAST_LINES:
        return
    wide = [
        node.lineno
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or ast.unparse(node.type) in ("Exception", "BaseException"))
        and not any(isinstance(inner, ast.Raise) for inner in ast.walk(node))
    ]
    assert wide == []


def test_the_searches_find_what_they_look_for() -> None:
    assert _endless_caches("@cache\ndef find(word): ...") == [(2, "find")]
    assert _endless_caches("@functools.lru_cache(maxsize=None)\ndef find(*words): ...") == [(2, "find")]
    assert _endless_caches("@cache\ndef table(): ...\n@lru_cache(maxsize=9)\ndef find(word): ...") == []
    assert _bare_numbers("LIMIT = 0.9\ndef run(q):\n    return q * 0.9 > 1") == [(3, 0.9)]
    assert _column_names('frame["media_date_day"]\n') == [(1, "media_date_day")]
    assert _column_names('"""media_date_day"""\n') == []
    assert _unfair_words('title = "The worst units"\n') == [(1, "The worst units")]
    assert _unfair_words('title = "Frank found it"\n') == []
