"""The owner's page: its counts, its sums, and that it asks for no more than three decisions."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace
from pagetree import tree
from tests_report import HOSTILE, make_report

from fleetaudit.writing.owner import DECISIONS, decisions, render_owner


def test_the_bar_and_its_key_are_the_verdicts_of_the_report(report):
    root = tree(render_owner(report))
    key = {entry.text.split()[-1]: int(entry.one("b").text) for entry in root.one("ul", kind="key").all("li")}
    assert key == {"now": 3, "plan": 6, "checked": 3, "note": 3, "clean": 9, "judged": 3}
    bar = root.all("svg")[0]
    widths = {next(iter(rect.classes)): float(rect.get("width")) for rect in bar.all("rect")}
    # three of 27 units are a ninth of the bar
    assert widths["now"] == pytest.approx(600 / 9, rel=1e-3)
    assert sum(widths.values()) == pytest.approx(600, rel=1e-3)
    assert "now: 3" in bar.one("desc").text


def test_money_is_the_sum_of_the_tiers_to_two_figures(report):
    text = tree(render_owner(report)).one("table").text
    # 200 + 1,100 and 2,300 + 7,400
    assert "1,300 to 9,700" in text and "200 to 2,300" in text


def test_three_decisions_at_most_and_the_gravest_first(report):
    report.findings.append(replace(report.findings[0], confidence="measure-first"))
    asked = decisions(report)
    assert [re.match(r"\w+ \w+", one.ask)[0] for one in asked[:2]] == ["Send somebody", "Set a"]
    shown = tree(render_owner(report)).one("ol", kind="decide").all("li")
    assert len(shown) == DECISIONS == 3
    assert "3 units at 3 accounts" in shown[0].text and "Invented Account 000" in shown[0].text
    assert "3 units that could not be checked" in shown[2].text


def test_what_must_be_measured_first_is_no_reason_to_send_or_buy(report):
    report.findings = [replace(finding, confidence="measure-first") for finding in report.findings]
    asked = [one.ask for one in decisions(report)]
    assert not [ask for ask in asked if ask.startswith(("Send", "Set"))]
    # units 0, 1 and 2 of every nine, 27 in all
    assert "9 units measured" in asked[-1]


def test_a_fleet_in_order_asks_for_nothing():
    report = make_report(0)
    assert "Nothing in this audit asks for a decision." in render_owner(report)


def test_hostile_text_stays_text(hostile):
    page = render_owner(hostile)
    root = tree(page)
    assert not {"script", "img"} & {node.tag for node in root.walk()}
    assert "\u202e" not in page and HOSTILE[:20] in root.text
    assert not [n for node in root.walk() for n in node.attributes if n.startswith("on") or n == "style"]
