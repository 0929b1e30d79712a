"""Parts of any length and make-up are unpacked as they were packed, whole and in pieces."""

import io
import random
import zipfile

import pytest

from fleetaudit.workbook.archive import Package

KINDS = {
    "empty": b"",
    "short": b"<a/>",
    "a slice and more that packs badly": random.Random(1).randbytes(200_000),
    "long and packs well": b"".join(b'<row r="%d"/>' % number for number in range(200_000)),
    "both": b"<row><c/></row>" * 100_000 + random.Random(2).randbytes(150_000) + b"x" * 2_000_000,
}


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
@pytest.mark.parametrize("kind", KINDS)
def test_a_part_comes_out_as_it_went_in(kind: str, method: int) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as file:
        file.writestr("part.xml", KINDS[kind])
    package = Package(buffer.getvalue())
    assert package.read("part.xml") == KINDS[kind]
    assert b"".join(package.pieces("part.xml")) == KINDS[kind]
