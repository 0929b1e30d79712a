"""Workbooks protected by a password: told from their bytes, and opened in memory with the password."""

from __future__ import annotations

import io
from typing import Any

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import MIB, Limits

_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
_PACKAGE = b"".join(b"%c\0" % letter for letter in b"EncryptedPackage")


def is_encrypted_package(data: bytes) -> bool:
    """Tell a workbook of the zipped kind that was wrapped and encrypted as a whole."""
    return data.startswith(_OLE) and _PACKAGE in data


def locked(label: str) -> WorkbookError:
    """Sentence for a file that cannot be read without its password."""
    return WorkbookError(
        say(
            "{label} is protected by a password. Give the password with --password-file "
            "FILE, or open it in your spreadsheet program, remove the password and save it "
            "again.",
            label=label,
        )
    )


def decrypted(data: bytes, password: str, label: str, limits: Limits) -> bytes | None:
    """Content of an encrypted workbook, or None for one that is not encrypted; nothing touches the disk."""
    if not data.startswith(_OLE):
        return None
    try:
        import msoffcrypto  # noqa: PLC0415  an extra that few need
        from msoffcrypto.exceptions import DecryptionError, FileFormatError, InvalidKeyError  # noqa: PLC0415 - wanted for protected files only
    except ImportError as error:
        raise WorkbookError(
            say(
                "{label} is protected by a password, and the package that opens such files is "
                "not installed. Install it with: pip install 'fleetaudit[encrypted]'",
                label=label,
            )
        ) from error
    out = io.BytesIO()
    try:
        file: Any = msoffcrypto.OfficeFile(io.BytesIO(data))
        if not file.is_encrypted():
            return None
        file.load_key(password=password)
        file.decrypt(out)
    except InvalidKeyError as error:
        raise WorkbookError(
            say(
                "{label} does not open with the password given. Check the first line of the password file.",
                label=label,
            )
        ) from error
    except (DecryptionError, FileFormatError, ValueError, KeyError, OSError) as error:
        raise WorkbookError(
            say(
                "{label} is protected in a way that cannot be opened here. Open it in your "
                "spreadsheet program, remove the password and save it again.",
                label=label,
            )
        ) from error
    if out.tell() > limits.total_bytes:
        raise WorkbookError(
            say(
                "{label} is larger than {most:,.0f} MiB and was not opened.",
                label=label,
                most=limits.total_bytes / MIB,
            )
        )
    return out.getvalue()
