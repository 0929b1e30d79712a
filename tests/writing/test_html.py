"""The summary page read as a browser reads it: what is on it, and that nothing foreign gets in."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from collections import Counter
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from msgspec.structs import replace
from pagetree import Node, opened, tree
from tests_report import HOSTILE, make_finding, make_report

from fleetaudit.assets import read_text
from fleetaudit.writing import html
from fleetaudit.writing.html import render
from fleetaudit.writing.page import lean, plain
from fleetaudit.writing.page_words import money, rounded
from fleetaudit.writing.report import Report, Span

GOLDEN = Path(__file__).parent / "golden" / "summary.txt"


def list_rows(page: Node) -> list[Node]:
    return [row for body in page.by_id("rows").all("tbody") for row in body.all("tr")]


def tags(page: str) -> list[tuple[str, dict[str, str | None]]]:
    return [(node.tag, node.attributes) for node in tree(page).walk()]


@pytest.fixture(scope="module")
def page() -> str:
    return render(make_report())


def test_counts_of_the_headline_are_those_of_the_report(page):
    numbers = [number.text for number in tree(page).one("ul", kind="big").all("b")]
    report = make_report()
    verdicts = Counter(unit.verdict for unit in report.units)
    in_order = verdicts["clean"] + verdicts["note"]
    # the money is the sum of the tiers, to two figures: 200 + 1,100 and 2,300 + 7,400
    assert numbers == [
        str(verdicts["now"]),
        str(verdicts["plan"]),
        str(verdicts["not-checked"]),
        str(in_order),
        "1,300–9,700",
    ]


def test_headline_links_filter_by_words_that_the_rows_carry(page):
    root = tree(page)
    words = {row.one("td").text.strip() for row in list_rows(root)}
    links = [a.get("href") for a in root.one("ul", kind="big").all("a") if "=" in a.get("href")]
    assert len(links) == 4
    for link in links:
        assert parse_qs(link[1:])["tier"][0] in words
        assert root.by_id(link[1:]).tag == "details", "without scripts the link still leads to the tier"


def test_every_link_inside_the_page_leads_somewhere(page):
    root = tree(page)
    ids = {node.get("id") for node in root.walk()}
    for link in (a.get("href") for a in root.all("a")):
        assert link.startswith("#")
        assert "=" in link or link[1:] in ids


def test_every_finding_has_its_address_and_opens_to_numbers_reason_and_source(page):
    root = tree(page)
    report = make_report()
    finding = next(f for f in report.findings if f.check == "restrictor-too-small")
    row = root.by_id(f"f-filter-list-{finding.row}-restrictor-too-small")
    paragraphs = opened(row, root)
    assert finding.message in row.one("summary").text
    assert {finding.why, *finding.derivation} <= set(paragraphs)
    assert "4.4 to 6.1 gpm" in row.text and f"H{finding.row}" in "".join(paragraphs)
    assert any(finding.source in text for text in paragraphs)
    assert any("; ".join(finding.cost_lines) in text for text in paragraphs)
    assert finding.fix in row.text and finding.crew in row.text


def test_a_reason_of_one_finding_only_stands_in_its_own_row():
    report = make_report()
    report.findings[0] = replace(report.findings[0], why="A reason nobody shares.")
    assert "A reason nobody shares." in list_rows(tree(render(report)))[0].text


@pytest.mark.parametrize("units", [27, 300])
def test_sentences_said_once_give_every_finding_all_its_own_words(units):
    """Figures, gaps, marks and markup in a text: what is put together again is what was to be said."""
    report = make_report(units)
    report.findings = [
        replace(
            finding,
            why=f"§1 of {number % 3} & <b>{number}</b>, B{number}",
            derivation=(f"{number % 2}.5 x 3,{number:03d} = A7:A{number}", f"a … gap {number % 2}", "§2"),
        )
        for number, finding in enumerate(report.findings)
    ]
    root = tree(render(report))
    assert len(root.by_id("said").all("li")) > 3
    rows = {row.get("id"): row for row in list_rows(root)}
    for finding in report.findings:
        paragraphs = opened(rows[f"f-filter-list-{finding.row}-{finding.check}"], root)
        at = paragraphs.index(finding.why)
        assert tuple(paragraphs[at + 1 : at + 4]) == finding.derivation


def test_units_that_could_not_be_judged_stand_before_the_notes_and_say_why(page):
    rows = list_rows(tree(page))
    words = [row.one("td").text.strip() for row in rows]
    assert list(dict.fromkeys(words)) == ["now", "plan", "not checked", "note"]
    missing = rows[words.index("not checked")]
    assert missing.get("id").startswith("u-filter-list-")
    assert "the restrictor is blank (column H)" in missing.text


def test_a_finding_said_once_for_an_account_is_one_line_that_names_all_units():
    report = make_report(9)
    unit = report.units[3]
    like = [replace(report.units[n], account=unit.account) for n in (5, 6)]
    report.findings += [make_finding(other, "media-date-unknown", "note") for other in like]
    rows = [row for row in list_rows(tree(render(report))) if "Media date unknown" in row.text]
    assert len(rows) == 1
    assert f"{unit.unit_id} and 2 more" in rows[0].text
    assert all(other.unit_id in rows[0].text for other in like)


def test_findings_alike_on_one_row_get_addresses_of_their_own():
    report = make_report(9)
    finding = next(f for f in report.findings if f.tier == "plan")
    report.findings += [finding, finding]
    ids = [found for node in tree(render(report)).walk() if (found := node.get("id"))]
    assert len(ids) == len(set(ids))


def test_sheet_names_in_any_script_give_plain_addresses():
    report = make_report(9)
    report.findings = [replace(f, sheet="Übersicht №2 / 東京") for f in report.findings]
    ids = [row.get("id") for row in list_rows(tree(render(report)))]
    assert ids and all(re.fullmatch(r"[a-z0-9-]+", found) for found in ids)
    assert any(found.startswith("f-ubersicht-no2-") for found in ids)


def test_lines_after_three_hundred_are_for_browsers_without_scripts_and_for_our_script():
    """A browser with scripts takes what is in `noscript` as text, so that nothing of it is laid out."""
    rows = tree(render(make_report(650, every_unit_found=True))).by_id("rows")
    assert [len(body.all("tr")) for body in rows.all("tbody")] == [300, 350]
    first, others = rows.all("table")
    assert [cell.text for cell in first.one("thead").all("th")] == [
        cell.text for cell in others.one("thead").all("th")
    ]
    assert [len(part.all("tbody")) for part in rows.all("noscript")] == [1]
    assert not [node for node in rows.walk() if "hidden" in node.attributes]
    assert not tree(render(make_report(300, every_unit_found=True))).by_id("rows").all("noscript")


def test_more_lines_than_the_page_takes_are_said_above_and_below_the_list(monkeypatch):
    monkeypatch.setattr(html, "LINES_SHOWN", 20)
    root = tree(render(make_report(50, every_unit_found=True)))
    assert len(list_rows(root)) == 20
    section = root.one("section", kind="rows").text
    assert "the first 20 of 50 lines" in section and "30 more lines" in section
    assert "50 lines" in root.by_id("tier=plan").text, "the counts are those of the fleet, not of the page"


def test_an_empty_fleet_and_a_clean_one_are_pages_too():
    report = make_report(0)
    assert "No check found anything" in render(report)
    clean = make_report(27)
    clean.findings, clean.not_checked, clean.orders, clean.remarks = [], [], [], []
    assert "No finding asks for a part." in render(clean)


def test_the_policy_names_the_bytes_of_the_one_style_and_the_one_script(page):
    policy = re.search(r'<head><meta http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    assert policy, "the policy must be the first thing in the head"
    for tag, rule in (("script", "script-src"), ("style", "style-src")):
        contents = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        assert len(contents) == 1
        digest = base64.b64encode(hashlib.sha256(contents[0].encode("utf-8")).digest()).decode()
        assert f"{rule} 'sha256-{digest}'" in policy[1]
    assert "default-src 'none'" in policy[1] and "unsafe" not in policy[1]


def test_no_address_outside_and_no_inline_style_or_handler(page):
    assert not re.search(r"https?:|//[a-z]|@import|url\(", page, re.IGNORECASE)
    for tag, attributes in tags(page):
        assert not [name for name in attributes if name == "style" or name.startswith("on")], tag
        assert not {"src", "srcset", "action", "formaction"} & set(attributes), tag


def test_hostile_text_in_every_field_stays_text(hostile: Report, page: str):
    attacked = render(hostile)
    count = Counter(tag for tag, _ in tags(attacked))
    assert count["script"] == 1 and count["img"] == 0 and count["style"] == 1
    assert not [name for _, attributes in tags(attacked) for name in attributes if name.startswith("on")]
    assert set(count) <= {tag for tag, _ in tags(page)} | {"p", "noscript"}
    shown = tree(attacked).text
    assert HOSTILE.split("\u202e")[0] in shown, "the text itself must be shown"
    assert "{{ 7*7 }}" in shown and "49" not in [word for word in shown.split() if word == "49"]
    assert "\u202e" not in attacked and "\x07" not in attacked
    attacked.encode("utf-8")


def test_half_characters_and_endless_texts_do_not_break_the_page():
    report = make_report(9)
    report.findings[0] = replace(report.findings[0], message="\ud800 half", fix="x" * 40000)
    page = render(report)
    page.encode("utf-8")
    assert "x" * 501 not in page and "(cut, 40000 characters)" in page


def test_same_report_same_bytes():
    assert render(make_report()) == render(make_report())


def test_bytes_a_row_stay_in_budget():
    """Budget of 400 bytes for each unit of an ordinary fleet, two findings or gaps on every third row."""
    small, large = (len(render(make_report(units)).encode()) for units in (300, 3000))
    assert (large - small) / 2700 <= 400


def test_a_line_takes_few_bytes():
    """What like findings share is said once, so each further line takes at most 400 bytes."""
    small, large = (len(render(make_report(units, every_unit_found=True)).encode()) for units in (600, 3000))
    assert (large - small) / 2400 <= 400


def test_own_style_and_script_stay_small():
    delivered = [lean(read_text(f"templates/summary.{kind}")) for kind in ("css", "js")]
    assert sum(map(len, delivered)) < 15_700


def test_page_has_the_landmarks_and_names_a_screen_reader_needs(page):
    root = tree(page)
    assert root.get("lang") == "en" and len(root.all("h1")) == 1 and len(root.all("main")) == 1
    for drawing in root.all("svg"):
        if "w" in drawing.classes:
            assert drawing.get("aria-hidden") == "true", "its numbers stand in the line before it"
            continue
        names = (drawing.get("aria-labelledby") or "").split()
        assert (
            drawing.get("role") == "img" and len(names) == 2 and all(root.by_id(name).text for name in names)
        )
    assert [len(figure.all("svg")) for figure in root.all("figure")] == [1] * 5
    assert [len(figure.all("table")) for figure in root.all("figure")] == [1] * 5
    assert all(heading.get("scope") for heading in root.all("th"))
    assert all(control.parent.tag == "label" for control in root.by_id("filter").all("input", "select"))
    for region in (node for node in root.walk() if node.get("tabindex")):
        assert region.get("tabindex") == "0" and region.get("role") == "region" and region.get("aria-label")
    assert root.by_id("count").get("aria-live") == "polite"
    levels = [int(heading.tag[1]) for heading in root.all("h1", "h2", "h3", "h4")]
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.0, "0"), (0.4, "0"), (4.0, "4"), (47.0, "47"), (1234.0, "1,200"), (98765.0, "99,000")],
)
def test_money_is_rounded_to_two_figures(value, shown):
    assert rounded(value) == shown


def test_money_that_is_not_known_is_blank():
    assert (
        money(None) == ""
        and money(Span(None, None, None)) == ""
        and money(Span(float("nan"), None, None)) == ""
    )
    assert money(Span(40.0, 120.0, 310.0)) == "40 to 310"


def test_plain_leaves_ordinary_text_alone():
    assert plain("Straße 5, 10\u00a0×\u00a054 – ok") == "Straße 5, 10\u00a0×\u00a054 – ok"


def test_texts_of_the_page_hold_none_of_the_words_kept_out_of_reports():
    """Words that blame a person or call a finding a fault of the software are kept out of every template."""
    for name in ("summary.html.j2", "parts/findings.html.j2", "parts/chart.html.j2"):
        words = set(
            re.findall(r"[a-z]+", re.sub(r"{[{%].*?[%}]}", " ", read_text(f"templates/{name}")).lower())
        )
        assert not words & {
            "worst",
            "guilty",
            "rank",
            "ranking",
            "league",
            "invalid",
            "failed",
            "error",
            "schema",
            "null",
        }


def test_page_matches_the_golden_dump(page, update_golden):
    """Guards against changes nobody meant; what the page must say is checked above."""
    leaves = (
        " ".join(part.split())
        for node in tree(page).walk()
        if node.tag not in ("script", "style")
        for part in node.content
        if isinstance(part, str)
    )
    dump = "\n".join(leaf for leaf in leaves if leaf) + "\n"
    if update_golden:
        GOLDEN.parent.mkdir(exist_ok=True)
        GOLDEN.write_text(dump, encoding="utf-8")
    assert dump == GOLDEN.read_text(encoding="utf-8")
