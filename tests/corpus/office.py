"""LibreOffice without a screen: many files converted in one start, and lists sorted by its own rules."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

_LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard"
 library:readonly="false" library:passwordprotected="false"><library:element library:name="Module1"/>
</library:library>
"""
_MODULE = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Module1"
 script:language="StarBasic">{code}</script:module>
"""
# A cell is selected and the button for sorting pressed; what belongs to the list the program decides itself.
_CODE = """
Sub Dispatch(doc As Object, command As String, arguments() As Object)
  Dim helper As Object
  helper = createUnoService("com.sun.star.frame.DispatchHelper")
  helper.executeDispatch(doc.CurrentController.Frame, ".uno:" & command, "", 0, arguments())
End Sub

Sub GoTo_(doc As Object, sheet As Object, address As String)
  Dim options(0) As New com.sun.star.beans.PropertyValue
  doc.CurrentController.setActiveSheet(sheet)
  options(0).Name = "ToPoint"
  options(0).Value = address
  Dispatch(doc, "GoToCell", options())
End Sub

Function OpenFile(source As String) As Object
  Dim options(0) As New com.sun.star.beans.PropertyValue
  options(0).Name = "Hidden"
  options(0).Value = True
  OpenFile = StarDesktop.loadComponentFromURL(source, "_blank", 0, options())
End Function

Sub SaveFile(doc As Object, target As String)
  Dim options(0) As New com.sun.star.beans.PropertyValue
  options(0).Name = "FilterName"
  options(0).Value = "Calc MS Excel 2007 XML"
  doc.storeToURL(target, options())
  doc.close(True)
End Sub

Sub GiveUp(what As String, target As String)
  Dim number As Integer
  number = FreeFile
  Open ConvertFromURL(target) & ".error" For Output As #number
  Print #number, what
  Close #number
  StarDesktop.terminate()
End Sub

Sub SaveProtected(source As String, target As String, kind As String, password As String)
  Dim doc As Object
  Dim options(1) As New com.sun.star.beans.PropertyValue
  Dim keys(1) As New com.sun.star.beans.NamedValue
  On Error Goto Failed
  doc = OpenFile(source)
  options(0).Name = "FilterName"
  options(0).Value = kind
  options(1).Name = "Password"
  options(1).Value = password
  If kind = "Calc MS Excel 2007 XML" Then
    keys(0).Name = "OOXPassword"
    keys(0).Value = password
    keys(1).Name = "CryptoType"
    keys(1).Value = "Standard"
    options(1).Name = "EncryptionData"
    options(1).Value = keys()
  End If
  doc.storeToURL(target, options())
  doc.close(True)
  Exit Sub
Failed:
  GiveUp(Error$ & " in line " & Erl, target)
End Sub

Sub SortList(source As String, target As String, tab As String, address As String, command As String)
  Dim doc As Object, sheet As Object
  Dim none()
  On Error Goto Failed
  doc = OpenFile(source)
  sheet = doc.Sheets.getByName(tab)
  sheet.unprotect("")
  GoTo_(doc, sheet, address)
  Dispatch(doc, command, none())
  SaveFile(doc, target)
  Exit Sub
Failed:
  GiveUp(Error$ & " in line " & Erl, target)
End Sub
"""


class Office:
    """One private profile of LibreOffice; skips the test where the program is not installed."""

    def __init__(self, folder: Path) -> None:
        if shutil.which("soffice") is None:
            pytest.skip("LibreOffice is not installed")
        self.folder = folder
        self._profile = folder / "profile"
        self._run("--terminate_after_init")
        basic = self._profile / "user" / "basic" / "Standard"
        basic.mkdir(parents=True, exist_ok=True)
        (basic / "script.xlb").write_text(_LIBRARY, "utf-8")
        code = _CODE.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        (basic / "Module1.xba").write_text(_MODULE.format(code=code), "utf-8")

    def _run(self, *arguments: str, timeout: float = 180) -> None:
        subprocess.run(
            [
                "soffice",
                f"-env:UserInstallation={self._profile.as_uri()}",
                "--headless",
                "--norestore",
                *arguments,
            ],
            check=True,
            capture_output=True,
            timeout=timeout,
            env=os.environ | {"LC_ALL": "C.UTF-8"},
        )

    def convert(self, paths: Sequence[Path], kind: str, name: str) -> dict[Path, Path]:
        """Read files and save them as another kind, all in one start; gives source -> result."""
        target = self.folder / name
        target.mkdir(parents=True, exist_ok=True)
        self._run("--convert-to", kind, "--outdir", str(target), *map(str, paths))
        suffix = kind.partition(":")[0]
        return {path: target / f"{path.stem}.{suffix}" for path in paths}

    def _call(self, macro: str, *arguments: object) -> None:
        # arguments arrive as text whatever they are; the program takes other spellings for no call at all
        texts = [f'"{one}"' for one in arguments]
        self._run(f"macro:///Standard.Module1.{macro}({','.join(texts)})")

    def protect(self, source: Path, target: Path, password: str) -> Path:
        """Save a workbook under a password."""
        kind = "calc8" if target.suffix == ".ods" else "Calc MS Excel 2007 XML"
        self._call("SaveProtected", source.as_uri(), target.as_uri(), kind, password)
        return target

    def sort(self, source: Path, sheet: str, address: str, *, descending: bool = True) -> Path:
        """Select a cell of a list and press the button that sorts by its column."""
        target = self.folder / f"{source.stem}.sorted.xlsx"
        command = "SortDescending" if descending else "SortAscending"
        self._call("SortList", source.as_uri(), target.as_uri(), sheet, address, command)
        return target
