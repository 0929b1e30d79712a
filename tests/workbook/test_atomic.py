"""A file appears whole or not at all, whatever fails on the way."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from fleetaudit.errors import OutputError
from fleetaudit.workbook.atomic import write_atomic


def left_over(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_pieces_and_functions_are_written(tmp_path: Path) -> None:
    write_atomic(tmp_path / "a.bin", [b"one", b"two"])
    write_atomic(tmp_path / "b.bin", lambda file: (file.write(b"three"), None)[1])
    assert (tmp_path / "a.bin").read_bytes() == b"onetwo"
    assert (tmp_path / "b.bin").read_bytes() == b"three"
    assert left_over(tmp_path) == ["a.bin", "b.bin"]


def test_existing_file_needs_force(tmp_path: Path) -> None:
    target = tmp_path / "a.html"
    target.write_bytes(b"old")
    with pytest.raises(OutputError, match=r"a\.html exists already.*--force"):
        write_atomic(target, [b"new"])
    assert target.read_bytes() == b"old"
    write_atomic(target, [b"new"], force=True)
    assert target.read_bytes() == b"new"


def test_folder_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "a.html").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        write_atomic(tmp_path / "a.html", [b"new"], force=True)


def test_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="there is no folder"):
        write_atomic(tmp_path / "none" / "a.html", [b"new"])


def test_permission_bits_come_from_the_source(tmp_path: Path) -> None:
    source = tmp_path / "source"
    source.write_bytes(b"")
    source.chmod(0o640)
    write_atomic(tmp_path / "a.bin", [b"x"], mode_from=source)
    assert (tmp_path / "a.bin").stat().st_mode & 0o777 == 0o640


def full_disk() -> Iterator[bytes]:
    yield b"x" * 1000
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_full_disk_keeps_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "a.bin"
    target.write_bytes(b"old")
    with pytest.raises(OutputError, match="disk is full"):
        write_atomic(target, full_disk(), force=True)
    assert target.read_bytes() == b"old"
    assert left_over(tmp_path) == ["a.bin"]


def test_full_disk_on_flush_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    target = tmp_path / "a.bin"
    target.write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OutputError, match="disk is full"):
        write_atomic(target, [b"new"], force=True)
    assert target.read_bytes() == b"old"
    assert left_over(tmp_path) == ["a.bin"]


def interrupted() -> Iterator[bytes]:
    yield b"x"
    raise KeyboardInterrupt


def test_interruption_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        write_atomic(tmp_path / "a.bin", interrupted())
    assert left_over(tmp_path) == []


def refuse_over(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every rename onto a file of that name fail, as a file open elsewhere makes it on some systems."""
    real = os.replace

    def replace(source: os.PathLike[str], target: os.PathLike[str]) -> None:
        if Path(target).name == name:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)


def test_target_open_elsewhere_keeps_the_result_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "fleet.audited.xlsx"
    target.write_bytes(b"old")
    (tmp_path / "fleet.audited.2.xlsx").write_bytes(b"another")
    refuse_over(target.name, monkeypatch)
    with pytest.raises(OutputError, match=r"open in another program.*fleet\.audited\.3\.xlsx"):
        write_atomic(target, [b"new"], force=True)
    assert target.read_bytes() == b"old"
    assert (tmp_path / "fleet.audited.2.xlsx").read_bytes() == b"another"
    assert (tmp_path / "fleet.audited.3.xlsx").read_bytes() == b"new"
    assert len(left_over(tmp_path)) == 3


def test_folder_that_refuses_every_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match="permission denied"):
        write_atomic(tmp_path / "a.bin", [b"new"])
    assert left_over(tmp_path) == []


def test_folder_that_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Modes do not bind an administrator, so the refusal of the system is put in by hand."""

    def refuse(*_: object) -> int:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(OutputError, match=r"permission denied.*-o"):
        write_atomic(tmp_path / "a.bin", [b"new"])
    assert left_over(tmp_path) == []


def test_other_failures_of_the_rename(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match=r"Cannot write a\.bin"):
        write_atomic(tmp_path / "a.bin", [b"new"])
    assert left_over(tmp_path) == []
