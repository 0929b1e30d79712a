"""Files appear whole or not at all: temporary file beside the target, flush, then one rename."""

from __future__ import annotations

import errno
import os
import stat
import zlib
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from fleetaudit.errors import OutputError
from fleetaudit.language import say

_FULL = {errno.ENOSPC, errno.EDQUOT}


def write_atomic(
    target: Path,
    content: Iterable[bytes] | Callable[[BinaryIO], None],
    *,
    mode_from: Path | None = None,
    force: bool = False,
) -> None:
    """Write a file in one step; whatever goes wrong, an older file stays as it was.

    `content` is the pieces of the file or a function that writes them. The new file gets the permission
    bits of `mode_from`, else the usual ones of this user.
    """
    refuse_existing(target, force=force)
    try:
        temporary = _write_temporary(target, content, mode_from)
    except OSError as error:
        raise _unwritable(target, error) from error
    try:
        os.replace(temporary, target)  # noqa: PTH105  the tests put a failing rename in its place
    except PermissionError as error:
        raise OutputError(_keep_aside(temporary, target)) from error
    except OSError as error:
        _remove(temporary)
        raise _unwritable(target, error) from error
    except BaseException:
        _remove(temporary)
        raise
    _settle_folder(target.parent)


def refuse_existing(target: Path, *, force: bool) -> None:
    """Raise when the target is a folder, or a file that nobody allowed to be replaced."""
    if target.is_dir():
        raise OutputError(
            say('"{name}" is a folder; the result needs a file name. Rename the folder.', name=target.name)
        )
    if not force and os.path.lexists(target):
        raise OutputError(
            say(
                "{name} exists already and was not replaced. Say --force to replace it, or "
                "choose another folder with -o.",
                name=target.name,
            )
        )


def _write_temporary(
    target: Path, content: Iterable[bytes] | Callable[[BinaryIO], None], mode_from: Path | None
) -> Path:
    temporary, handle = _open_beside(target)
    try:
        with os.fdopen(handle, "wb") as file:
            if callable(content):
                content(file)
            else:
                file.writelines(content)
            file.flush()
            os.fsync(file.fileno())
        if mode_from is not None:
            temporary.chmod(stat.S_IMODE(mode_from.stat().st_mode))
    except BaseException:
        _remove(temporary)
        raise
    return temporary


def _open_beside(target: Path) -> tuple[Path, int]:
    _clear_abandoned(target)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    for attempt in range(100):
        temporary = target.with_name(f".{target.name}.{_host()}-{os.getpid()}-{attempt}.part")
        with suppress(FileExistsError):
            return temporary, os.open(temporary, flags, 0o666)
    raise FileExistsError(errno.EEXIST, "too many unfinished files", str(target))


def _host() -> str:
    """Short mark of this machine, since a folder may be shared with others."""
    return f"{zlib.crc32(os.uname().nodename.encode()):08x}" if hasattr(os, "uname") else "0"


def _clear_abandoned(target: Path) -> None:
    """Remove unfinished files of the same result left by a process of this machine that was killed."""
    if os.name != "posix":  # elsewhere there is no harmless way to ask whether a process is alive
        return
    try:
        names = os.listdir(target.parent)  # noqa: PTH208  names alone, of a folder that may hold many
    except OSError:
        return  # what is wrong with the folder is said when the file is made
    start, end = f".{target.name}.{_host()}-", ".part"
    for name in names:
        if name.startswith(start) and name.endswith(end):
            process = name.removesuffix(end).rpartition("-")[0].rpartition("-")[2]
            if process.isdigit() and not _is_alive(int(process)):
                _remove(target.parent / name)


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _keep_aside(temporary: Path, target: Path) -> str:
    """Save the finished result under a free name beside the target and say where it is."""
    for number in range(2, 100):
        other = target.with_name(f"{target.stem}.{number}{target.suffix}")
        if os.path.lexists(other):
            continue
        try:
            os.replace(temporary, other)  # noqa: PTH105  as above
        except OSError:
            break
        return say(
            "Cannot write {name}: it is open in another program, or protected. The result is "
            "in {other}; close the other program to use the usual name.",
            name=target.name,
            other=other.name,
        )
    _remove(temporary)
    return say(
        "Cannot write {name}: permission denied in {folder}. Close it elsewhere or "
        "choose another folder with -o.",
        name=target.name,
        folder=target.parent,
    )


def _unwritable(target: Path, error: OSError) -> OutputError:
    if error.errno in _FULL:
        return OutputError(
            say(
                "Cannot write {name}: the disk is full. Nothing was changed; free some space and run again.",
                name=target.name,
            )
        )
    if isinstance(error, FileNotFoundError):
        return OutputError(
            say(
                'Cannot write {name}: there is no folder "{folder}". Create it first.',
                name=target.name,
                folder=target.parent,
            )
        )
    if isinstance(error, PermissionError):
        return OutputError(
            say(
                "Cannot write {name}: permission denied in {folder}. Choose another folder with -o.",
                name=target.name,
                folder=target.parent,
            )
        )
    return OutputError(
        say(
            "Cannot write {name}: {reason}. Nothing was changed; choose another folder with -o.",
            name=target.name,
            reason=error.strerror or error,
        )
    )


def _remove(temporary: Path) -> None:
    with suppress(OSError):
        temporary.unlink(missing_ok=True)


def _settle_folder(folder: Path) -> None:
    """Ask the system to remember the rename; systems that cannot are left alone."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
