r"""Spreadsheet files as files: read them safely, change a copy without touching what is not yours.

This package knows nothing of what stands in the cells. It leans on the standard library, on
`python-calamine` for the binary and open-document kinds, on one module of exceptions (`errors`) and on one
through which sentences are said (`language`); with those it can be taken out and used alone.

The problem
-----------
Libraries that load a workbook and save it again drop what they do not model: stored results of formulas, text
boxes, slicers, threaded comments, extended formats, form controls, signatures, and much else, most of it
without a word. Whoever keeps the only copy of a list in such a file cannot use them to add a column.

The way
-------
A workbook of the zipped XML kind (`.xlsx`, `.xlsm`, strict or transitional) is a set of parts. To add columns
to one sheet, at most a handful of parts must change. The parser reports at which byte each element begins and
ends; a change is "replace the bytes from here to there by these". Nothing is ever written anew from a
model, so whatever stands between two changes stays: attributes in their order, white space, prefixes,
extension elements, comments. Parts that need no change are copied as they lie in the zip file, compressed
bytes and all, after their size and check sum were verified.

What is kept
------------
- Every part except the content types, the workbook part with its relationships, the styles, the changed
  sheets and the table around a list is the same bytes. Parts are in the same order.
- In a changed sheet every cell, formula, stored result, style, attribute and extension is still there.
- Two runs on the same input give the same bytes. A second run on the copy replaces what the first one added,
  found by its heading (columns) and by a hidden name (sheets), wherever the user moved it meanwhile; what
  the user put beside or below stays. A sheet of ours is written anew whole.
- The source is never opened for writing. A copy appears under its name complete or not at all.

Reading
-------
>>> import tempfile
>>> from pathlib import Path
>>> from fleetaudit.workbook.book import open_workbook
>>> folder = tempfile.TemporaryDirectory()
>>> path = Path(folder.name) / "list.csv"
>>> _ = path.write_text("Part;Stock\nwasher;7\nspring;12\n")
>>> book = open_workbook(path)
>>> [sheet.name for sheet in book.sheets], book.kind.value
(['list'], 'csv')
>>> book.read("list").columns
[['Part', 'washer', 'spring'], ['Stock', '7', '12']]
>>> folder.cleanup()

`open_workbook` tells the kind from the bytes, never from the name, and checks every limit before anything is
parsed. `SheetData` holds what the cells of a sheet hold (`cells`): each thing once, and for every column in
which row which of them stands. Beside the value that is what other readers drop: number formats that say more
than it (`formats`), error cells (`errors`), formulas that were never calculated (`unstored`). Then there are
hidden rows, merged ranges, tables, the filter. Addresses are (row, column), counted from 1.

Annotating
----------
    from fleetaudit.workbook.splice import Column, Look, Sheet, annotate

    remarks = annotate(
        Path("stock.xlsx"), Path("stock.checked.xlsx"),
        sheet="Stock", heading_row=3, rows=[4, 5, 6],
        columns=[
            Column("Check: state", ["ok", "low", "ok"]),
            Column("Check: days left", [40, 3, 55], "0"),
        ],
        looks=[("Check: state", [Look("low", fill="F8CBAD", font="7F1D1D")])],
        own_prefix="Check: ",
        sheets=[Sheet("Check summary", [["1 of 3 parts is low"]])],
    )

The columns go to the right of everything that stands in the rows of the list, without a gap, so that sorting
takes them along; the filter or table around the list is made wider. Colours are conditional formats keyed on
the word in the cell, after the user's own. Text is written as text, whatever it looks like; numbers and dates
are typed. `remarks` are sentences for the user: what could not be made wider, what covers the new columns,
that a signature no longer holds. `CannotSplice` says why a file that can be read cannot be annotated.
`setting` changes single cells of a copy in the same way.

Safety
------
Sizes, ratios and counts are bounded before anything is unpacked (`archive.Limits`), large parts are counted
piece by piece before they are held (`census`), a document type declaration is refused in every part, no
entity is expanded, nothing is extracted by name, no link is followed, no macro run. A file outside the
limits, a damaged one, or one that is something else gets one sentence that names it (`errors.WorkbookError`).

Limits worth knowing
--------------------
- `.xls`, `.xlsb`, `.ods` and text tables are read, never annotated. Of those kinds the reader behind them
  gives no error cells and no formulas, and of `.xls` no number formats; `SheetData.blind` says what it
  cannot tell.
- Rows that are out of order, shared workbooks with a log of changes, templates and add-ins are not annotated.
- Print areas are reported and not changed; the calculation chain stays, as formula cells are never touched.
- The files have been read back by openpyxl, calamine and LibreOffice, not by every spreadsheet program.

Where things are
----------------
=================  ==================================================================================
`container`        what a file is, told from its bytes          `archive`     the zip file, limits, raw copies
`encryption`       files under a password                       `census`      counts before a part is held
`markup`           elements with their bytes, edits             `structure`   sheets, names, relations, tables
`rows`, `pieces`   cells of a sheet as they are written         `texts`       shared and rich strings
`values`, `cells`  what they hold, and all that a sheet holds   `place`       addresses and ranges
`formats`          number formats                               `gathering`   a sheet's cells from its rows
`book`             a workbook opened for reading                `other_kinds` binary, open-document, text
`splice`, `job`    an annotation from start to end              `list_sheet`  the columns beside the list
`sheetedit`        edits of one sheet part                      `widening`    filters and tables made wider
`styles`           additions to the styles part                 `cellmarkup`  one cell as markup
`sheets`           sheets that are wholly ours                  `additions`   their place in the workbook
`orphans`          parts nothing leads to any more              `drawings`    what floats over a sheet
`setting`          single cells set in a copy                   `cell_values` what may be written into them
`dependents`       formulas that rest on changed cells          `atomic`      files that appear whole or not
`opened`           an opened file and what was scanned of it    `sheet_part`  markup of a sheet that is ours
`sheet_rows`       its rows, one by one or by column            `columns`     cells of whole columns
`outline`          where the rows of a sheet stand
=================  ==================================================================================
"""
