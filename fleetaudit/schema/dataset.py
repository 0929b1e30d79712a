"""What files of a dataset are called, and its results: folders of Parquet files, columns, page, totals."""

from __future__ import annotations

#: endings of files of columns, which are nothing but a dataset, and of text tables, which may be a list too
COLUMN_STORES, TEXT_TABLES = (".parquet", ".parq", ".pq"), (".csv", ".tsv", ".txt")

UNITS, FINDINGS, NOT_CHECKED, PROBLEMS, COUNTS = "units", "findings", "not_checked", "problems", "counts"
FOLDERS = (UNITS, FINDINGS, NOT_CHECKED, PROBLEMS, COUNTS)
RESULTS = ".audited"
PAGE, TOTALS = ".summary.html", "summary.json"

#: kinds of columns, as the writer of Parquet names them; `word` is a text that comes again and again
TEXT, WORD, WORDS, NUMBER, WHOLE, FLAG, DAY = "text", "word", "words", "number", "whole", "flag", "day"

FILE, ROW, UNIT_ID, VESSEL_LABEL, ACCOUNT = "file", "row", "unit_id", "vessel_label", "account"
_PLACE = ((FILE, WORD), (ROW, WHOLE), (UNIT_ID, TEXT), (VESSEL_LABEL, WORD), (ACCOUNT, WORD))

#: flow window in the units table, least, best and most
WINDOW = ("needed_low_gpm", "needed_target_gpm", "needed_high_gpm")
#: the columns of each table with their kinds, in order
TABLES: dict[str, tuple[tuple[str, str], ...]] = {
    UNITS: (
        *_PLACE,
        ("verdict", WORD),
        ("scope", WORD),
        ("media", WORD),
        ("media_key", WORD),
        ("vessel", WORD),
        ("vessel_diameter_in", NUMBER),
        ("area_ft2", NUMBER),
        ("water_cold_c", NUMBER),
        ("water_warm_c", NUMBER),
        ("temperature_assumed", FLAG),
        *((name, NUMBER) for name in WINDOW),
        ("restrictor_gpm", NUMBER),
        ("restrictor_recommended_gpm", NUMBER),
        ("housing", WORD),
        ("housing_recommended", WORD),
        ("expansion_cold_pct", NUMBER),
        ("expansion_warm_pct", NUMBER),
        ("media_date", DAY),
        ("media_due", DAY),
        ("checks_run", WHOLE),
        ("checks_applied", WHOLE),
        ("findings", WORDS),
    ),
    FINDINGS: (
        *_PLACE,
        ("check", WORD),
        ("tier", WORD),
        ("confidence", WORD),
        ("message", TEXT),
        ("why", WORD),
        ("fix", TEXT),
        ("cost_year_low", NUMBER),
        ("cost_year_mid", NUMBER),
        ("cost_year_high", NUMBER),
        ("numbers", TEXT),
        ("source", WORD),
    ),
    NOT_CHECKED: (*_PLACE, ("check", WORD), ("reason", WORD), ("core", FLAG)),
    PROBLEMS: (
        (FILE, WORD),
        ("level", WORD),
        ("kind", WORD),
        ("column", WORD),
        ("text", TEXT),
        ("read", TEXT),
        ("assumed", TEXT),
        ("effect", WORD),
        ("cells", WHOLE),
        ("first_cell", TEXT),
    ),
    COUNTS: ((FILE, WORD), ("about", WORD), ("name", WORD), ("count", WHOLE)),
}
