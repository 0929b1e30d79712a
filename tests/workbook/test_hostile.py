"""Files that are not what they say, or that ask for more than they should: one sentence each, no crash."""

from __future__ import annotations

import io
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from workbook_samples import MAIN, hand_made, members, plain_workbook, png, rewrite, rich_workbook, sheet_xml

from fleetaudit.errors import FleetAuditError, WorkbookError
from fleetaudit.workbook import archive, census
from fleetaudit.workbook.archive import Limits, Package
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.container import Kind, sniff
from fleetaudit.workbook.splice import Column, annotate

ONE = '<row r="1"><c r="A1"><v>1</v></c></row>'


def refused(path: Path, pattern: str, limits: Limits | None = None) -> str:
    """Open and read everything; the refusal must be one sentence that names the file."""
    with pytest.raises(WorkbookError, match=pattern) as caught:
        book = open_workbook(path, limits)
        for sheet in book.sheets:
            book.read(sheet.name)
    assert "\n" not in caught.value.message and path.name.removeprefix("~$") in caught.value.message
    return caught.value.message


# Not a workbook at all --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("content", "what"), [
    (b"<!DOCTYPE html><html><table></table></html>", "a web page"),
    (b"\xef\xbb\xbf  <html><body>", "a web page"),
    (b"<table><tr><td>Unit</td></tr></table>", "a web page"),
    (b"Unit,Vessel\nU-1,10x54\n", "text"),
    ("Unit\tVessel\r\n".encode("utf-16"), "text"),
    (b"<?xml version='1.0'?><Workbook/>", "an XML document"),
    (b"%PDF-1.7\n", "a PDF document"),
    (png(), "a picture"),
    (b"\x1f\x8b\x08\0\0", "a compressed file"),
    (b"\x09\x08\x10\0\0\x06\x05\0", "a spreadsheet of the early nineties"),
    (b"\0\1\2\3\4", "data of an unknown kind"),
])  # fmt: skip
def test_other_kinds_under_a_workbook_name_are_named(content: bytes, what: str, tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    path.write_bytes(content)
    assert f"fleet.xlsx is not a workbook inside: it is {what}." in refused(path, "not a workbook inside")


@pytest.mark.parametrize(("part", "what"), [
    ("application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml", "a text document"),
    ("application/vnd.openxmlformats-officedocument.presentationml.presentation.main+xml", "a slide show"),
])  # fmt: skip
def test_other_office_documents_are_named(part: str, what: str, tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("[Content_Types].xml", f'<Types><Override ContentType="{part}"/></Types>')
    refused(path, what)


def test_a_plain_zip_an_empty_zip_and_an_empty_file(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("a.txt", "hello")
    refused(path, "a zip archive")
    with zipfile.ZipFile(path, "w"):
        pass
    refused(path, "a zip archive")
    path.write_bytes(b"")
    refused(path, "empty")


def test_kind_is_told_from_bytes_not_from_the_name(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xls")
    assert sniff(path) is Kind.XLSX
    assert open_workbook(path).read("Units").n_rows > 3


def test_missing_file_names_its_nearest_neighbour(tmp_path: Path) -> None:
    plain_workbook(tmp_path / "fleet.xlsx")
    with pytest.raises(WorkbookError, match=r'No file "flet\.xlsx".*Did you mean "fleet\.xlsx"\?'):
        open_workbook(tmp_path / "flet.xlsx")
    with pytest.raises(WorkbookError, match="Check the name"):
        open_workbook(tmp_path / "zzzzz")
    with pytest.raises(WorkbookError, match="no folder"):
        open_workbook(tmp_path / "none" / "fleet.xlsx")


def test_folder_and_lock_file(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="is a folder"):
        open_workbook(tmp_path)
    path = tmp_path / "~$fleet.xlsx"
    path.write_bytes(b"\x05owner")
    assert "Give fleet.xlsx itself" in refused(path, "lock file")


def test_password_protected_workbooks_are_named(tmp_path: Path) -> None:
    """A protected workbook is an OLE file with a stream of this name (MS-OFFCRYPTO 2.3.4)."""
    path = tmp_path / "fleet.xlsx"
    path.write_bytes(bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600) + "EncryptedPackage".encode("utf-16-le"))
    refused(path, "protected by a password")
    path.write_bytes(bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600) + "WordDocument".encode("utf-16-le"))
    refused(path, "another kind of office document")
    path.write_bytes(
        bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600) + "Workbook\0".encode("utf-16-le") + bytes(600)
    )
    refused(path, "damaged")


# Broken or dishonest zip files ------------------------------------------------------------------------------


def test_every_truncation_is_refused_in_one_sentence(tmp_path: Path) -> None:
    data = plain_workbook(tmp_path / "fleet.xlsx").read_bytes()
    path = tmp_path / "cut.xlsx"
    for share in (0.1, 0.3, 0.5, 0.7, 0.9, 0.99):
        path.write_bytes(data[: int(len(data) * share)])
        refused(path, "damaged")


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bytes_never_crash(seed: int, tmp_path: Path) -> None:
    import random  # noqa: PLC0415  only here

    chance = random.Random(seed)
    data = bytearray(rich_workbook(tmp_path / "fleet.xlsx").read_bytes())
    for _ in range(1 + seed % 5):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path = tmp_path / "flipped.xlsx"
    path.write_bytes(data)
    try:
        book = open_workbook(path)
        for sheet in book.sheets:
            book.read(sheet.name)
        annotate(path, tmp_path / "out.xlsx", sheet="Units", heading_row=3, rows=[4], own_prefix="A: ",
                 columns=[Column("A: b", ["c"])])  # fmt: skip
    except FleetAuditError as error:
        assert error.message.count("\n") == 0
        assert not (tmp_path / "out.xlsx").exists()
    else:
        with zipfile.ZipFile(tmp_path / "out.xlsx") as package:
            assert package.testzip() is None


def test_encrypted_member(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    data = bytearray(path.read_bytes())
    central = data.index(b"PK\x01\x02")
    data[central + 8] |= 1
    path.write_bytes(data)
    refused(path, "protected by a password")


def test_unusual_compression(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    content = members(plain_workbook(path))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_BZIP2) as package:
        for name, part in content.items():
            package.writestr(name, part)
    refused(path, "packed by method 12")


def test_two_members_of_one_name(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("XL/workbook.xml", b"<workbook/>")
    refused(path, "two parts named")


@pytest.mark.parametrize("change", [-1, 1, 1000])
def test_lying_sizes(change: int, tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    data, name = bytearray(path.read_bytes()), b"xl/worksheets/sheet1.xml"
    central = data.rindex(name) - 46
    assert data[central : central + 4] == b"PK\x01\x02"
    size = int.from_bytes(data[central + 24 : central + 28], "little") + change
    data[central + 24 : central + 28] = size.to_bytes(4, "little")
    path.write_bytes(data)
    refused(path, "damaged")


def test_wrong_sum(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    data = bytearray(path.read_bytes())
    central = data.rindex(b"xl/worksheets/sheet1.xml") - 46
    data[central + 16] ^= 0xFF
    path.write_bytes(data)
    refused(path, "check sum")


def test_bomb_by_ratio_total_and_count(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    hand_made(path, sheet_xml(ONE), strings=b"<sst>" + b" " * 3_000_000 + b"</sst>")
    refused(path, "grows")
    plain_workbook(path)
    refused(path, "unpacks to", Limits(total_bytes=path.stat().st_size + 10))
    refused(path, "parts, more than 3", Limits(members=3))
    refused(path, "larger than", Limits(total_bytes=100))


def test_names_that_climb_out_of_a_folder_are_only_names(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    rewrite(path, {"../../climbed.txt": b"x"})
    annotate(path, tmp_path / "out.xlsx", sheet="Units", heading_row=3, rows=[4], own_prefix="A: ",
             columns=[Column("A: b", ["c"])])  # fmt: skip
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["fleet.xlsx", "out.xlsx"]
    assert not (tmp_path.parent.parent / "climbed.txt").exists()


# Dishonest XML ----------------------------------------------------------------------------------------------

ENTITY = (
    f'<!DOCTYPE w [<!ENTITY e "expanded">]><worksheet xmlns="{MAIN}"><sheetData><row r="1"><c r="A1" t="str">'
    "<v>&e;</v></c></row></sheetData></worksheet>"
)


@pytest.mark.parametrize("encode", [str.encode, lambda text: text.encode("utf-16"),
                                    lambda text: ("<!--" + "<x>" * 9000 + "-->" + text).encode(),
                                    lambda text: ("<!-- <a> --><?b <c>?>" + text).encode()])  # fmt: skip
def test_type_declaration_in_the_sheet(encode: Callable[[str], bytes], tmp_path: Path) -> None:
    refused(hand_made(tmp_path / "fleet.xlsx", encode(ENTITY)), "document type declaration")


@pytest.mark.parametrize("name", ["xl/sharedStrings.xml", "xl/styles.xml", "docProps/core.xml",
                                  "xl/theme/theme1.xml", "xl/_rels/workbook.xml.rels"])  # fmt: skip
def test_type_declaration_in_any_part(name: str, tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    rewrite(path, {name: b"<!DOCTYPE x SYSTEM 'file:///etc/passwd'><x/>"})
    refused(path, "document type declaration")


def test_far_cells_are_refused_before_memory_is_asked_for(tmp_path: Path) -> None:
    path = hand_made(
        tmp_path / "fleet.xlsx", sheet_xml(ONE + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')
    )
    assert path.stat().st_size < 6000
    assert "Units" in refused(path, "row 1,048,576; at most 200,000 rows")
    hand_made(path, sheet_xml(ONE + '<row r="199999"><c r="XFD199999"><v>1</v></c></row>'))
    refused(path, "XFD199999.*more than 20,000,000 cells")


def test_styled_cells_and_false_dimensions_do_not_count(tmp_path: Path) -> None:
    rows = ONE + '<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    path = hand_made(tmp_path / "fleet.xlsx", sheet_xml(rows, head='<dimension ref="A1:XFD1048576"/>'))
    found = open_workbook(path).read("Units")
    assert (found.n_rows, found.n_columns, found.claimed_rows) == (1, 1, 1_048_576)
    hand_made(path, sheet_xml(ONE + '<row r="7"><c r="C7"><v>2</v></c></row>', head='<dimension ref="A1"/>'))
    found = open_workbook(path).read("Units")
    assert (found.n_rows, found.n_columns, found.value(7, 3)) == (7, 3, 2)


@pytest.mark.parametrize("rows", [
    '<row r="1048577"><c r="A1048577"><v>1</v></c></row>',
    '<row r="99999999999"><c><v>1</v></c></row>',
    '<row r="1"><c r="XFE1"><v>1</v></c></row>',
    '<row r="1"><c r="ZZZ1"><v>1</v></c></row>',
    '<row r="1"><c r="A2"><v>1</v></c></row>',
    '<row r="1"><c r="A1" t="s"><v>5</v></c></row>',
    f'<row r="1"><c r="A1" t="s"><v>{"5" * 9000}</v></c></row>',
    '<row r="1"><c r="A1"><v>1</v></row>',
    '<row r="1"><c r="A1" t="str"><v>&nbsp;</v></c></row>',
    '<row r="1"><c r="A1" t="str"><v>&#55296;</v></c></row>',
])  # fmt: skip
def test_absurd_addresses_and_broken_markup(rows: str, tmp_path: Path) -> None:
    refused(hand_made(tmp_path / "fleet.xlsx", sheet_xml(rows)), "damaged|columns are read")


def test_a_number_of_nine_thousand_digits_is_no_number(tmp_path: Path) -> None:
    path = hand_made(
        tmp_path / "fleet.xlsx", sheet_xml(f'<row r="1"><c r="A1"><v>{"5" * 9000}</v></c></row>')
    )
    assert open_workbook(path).read("Units").columns == [["5" * 9000]]


def test_text_that_is_not_utf8(tmp_path: Path) -> None:
    bad = sheet_xml('<row r="1"><c r="A1" t="str"><v>@</v></c></row>').replace(b"@", b"\xff\xfe\xfa")
    refused(hand_made(tmp_path / "fleet.xlsx", bad), "damaged")
    odd = b'<?xml version="1.0" encoding="ISO-8859-1"?>' + sheet_xml(ONE)
    refused(hand_made(tmp_path / "fleet.xlsx", odd), "encoded as ISO-8859-1")


def test_missing_pieces(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    for name in ("_rels/.rels", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"):
        rewrite(path, {name: None}, tmp_path / "cut.xlsx")
        refused(tmp_path / "cut.xlsx", "damaged|zip archive")


ROW_BOMB = """
import io, resource, sys, zipfile
from pathlib import Path
resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))
sys.path.insert(0, {here!r})
from workbook_samples import hand_made, sheet_xml
from fleetaudit.errors import WorkbookError
from fleetaudit.workbook.book import open_workbook
path = Path({path!r})
try:
    book = open_workbook(path)
    book.read(book.sheets[0].name)
except WorkbookError as error:
    print(error.message)
"""


@pytest.mark.parametrize(("row", "pattern"), [
    ("<row><c><v>1</v></c></row>", "at most 200,000 rows"),
    ("<row/>", "past the last one"),
])  # fmt: skip
def test_row_bombs_stay_within_two_gigabytes_and_stop_early(row: str, pattern: str, tmp_path: Path) -> None:
    count = 3_000_000
    path = hand_made(tmp_path / "fleet.xlsx", sheet_xml(row * count))
    with zipfile.ZipFile(path) as package:
        info = package.getinfo("xl/worksheets/sheet1.xml")
        allowed = info.file_size / info.compress_size <= Limits().ratio
    code = ROW_BOMB.format(here=str(Path(__file__).parent.parent), path=str(path))
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert pattern in done.stdout or (not allowed and "grows" in done.stdout)


@pytest.mark.parametrize(("element", "what"), [
    ("<row><c><v>1</v></c></row>", "rows with values"),
    ("<x:row r='1'/>", "rows"),
    ("<c/>", "cells"),
    ("<si><t/></si>", "texts"),
])  # fmt: skip
def test_crowds_of_elements_are_counted_before_the_part_is_held(
    element: str, what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pieces end anywhere, so tags are cut in two on the way; one element more than allowed is too many."""
    monkeypatch.setattr(census, "_WORTH_BYTES", 0)
    monkeypatch.setattr(census, "LAST_ROW", 1000 if what == "rows" else 9000)
    monkeypatch.setattr(census, "_MOST_STRINGS", 1000)
    monkeypatch.setattr(archive, "MIB", 37)
    for count, refuse in ((1000, False), (1002, True)):
        path = tmp_path / f"{count}.xlsx"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
            package.writestr("a.xml", f"<a>{element * count}</a>")
        with Package(path, Limits(rows=1000, cells=1000 if what == "cells" else 9000)) as package:
            if refuse:
                with pytest.raises(WorkbookError, match=f"more than 1,000 {what}"):
                    census.refuse_crowds(package, "a.xml")
            else:
                census.refuse_crowds(package, "a.xml")


def test_a_large_part_may_not_grow_as_much_as_a_small_one(tmp_path: Path) -> None:
    """Sheets of real programs name each cell, which leaves a ratio of 10 to 40 even where all are alike."""
    odd = "".join(f"<row ht='{n * 7919 % 997}'/>" + "<row/>" * 12 for n in range(700_000))
    path = hand_made(tmp_path / "fleet.xlsx", sheet_xml(odd))
    start = time.process_time()
    with zipfile.ZipFile(path) as package:
        info = package.getinfo("xl/worksheets/sheet1.xml")
    if info.file_size / info.compress_size > Limits().ratio_of_large:
        refused(path, "grows")
    else:
        refused(path, "more than 1,048,576 rows")
    assert time.process_time() - start < 5


def test_a_part_that_is_parsed_whole_has_a_size_and_a_count_of_its_own(tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    with (
        Package(path, Limits(part_bytes=1000)) as package,
        pytest.raises(WorkbookError, match="more than 0 MiB"),
    ):
        package.read("xl/styles.xml")
    rewrite(
        path,
        {
            "xl/styles.xml": b"<styleSheet xmlns='"
            + MAIN.encode()
            + b"'>"
            + b"".join(b"<a n='%d'/>" % n for n in range(300_001))
            + b"</styleSheet>"
        },
    )
    refused(path, "more than 300,000 elements")


def test_reading_a_package_never_gives_more_than_it_declares() -> None:
    """The unpacked bytes are counted: a member that declares little gives no more before it is refused."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("a.xml", b"x" * 500_000)
    data = bytearray(buffer.getvalue())
    central = data.index(b"PK\x01\x02")
    data[central + 24 : central + 28] = (10).to_bytes(4, "little")
    with (
        Package(bytes(data), label="fleet.xlsx") as package,
        pytest.raises(WorkbookError, match="larger than it claims"),
    ):
        package.read("a.xml")


@pytest.mark.parametrize(
    "rows",
    [
        '<row><c r="A1"><is>' + "a" * 40 + "</c></row>",
        '<row><c r="A1" t="inlineStr"><is>' + "<t>a</t>" * 3000 + "</row>",
        "<row " + 'a="b" ' * 20_000 + "<",
    ],
    ids=["text that never ends", "many texts that never end", "many attributes"],
)
def test_markup_that_a_careless_pattern_would_try_for_ever(rows: str, tmp_path: Path) -> None:
    start = time.process_time()
    refused(hand_made(tmp_path / "fleet.xlsx", sheet_xml(rows)), "damaged")
    assert time.process_time() - start < 2


@pytest.mark.parametrize("part", [b"<?" * 400_000, b"<!--" * 200_000, b"<" * 800_000, b"<!-- -->" * 100_000])
def test_openings_without_an_end_before_the_root(part: bytes, tmp_path: Path) -> None:
    path = plain_workbook(tmp_path / "fleet.xlsx")
    rewrite(path, {"xl/odd.xml": part})
    start = time.process_time()
    open_workbook(path).read("Units")
    assert time.process_time() - start < 2


def test_strings_that_a_careless_pattern_would_try_for_ever(tmp_path: Path) -> None:
    strings = f'<sst xmlns="{MAIN}"><si>'.encode() + b"a" * 60 + b"<t>b</t></sst>"
    path = hand_made(tmp_path / "fleet.xlsx", sheet_xml(ONE), strings=strings)
    start = time.process_time()
    with pytest.raises(WorkbookError, match="damaged"):
        open_workbook(path).read("Units")
    assert time.process_time() - start < 2
