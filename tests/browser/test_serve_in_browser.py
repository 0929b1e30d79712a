"""The page that takes a workbook, from dropping it to opening the summary."""

from __future__ import annotations

from datetime import date

import pytest
from modes import enter, violations

from fleetaudit.assets import read_bytes
from fleetaudit.web.server import Server

PATIENCE_MS = 60_000
AS_OF = date(2026, 11, 1)


@pytest.fixture
def server():
    with Server(lambda: AS_OF) as running:
        yield running


@pytest.fixture
def workbook(tmp_path):
    path = tmp_path / "list of filters.xlsx"
    path.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    return path


def test_a_workbook_is_chosen_audited_and_the_results_come_back(page, server, workbook, tmp_path):
    page.goto(server.address)
    page.get_by_label("Workbook (").set_input_files(workbook)
    page.get_by_text("list of filters.xlsx: ready.").wait_for(timeout=PATIENCE_MS)
    links = page.locator("article a").all_inner_texts()
    assert links == [
        "list of filters.audited.xlsx",
        "list of filters.summary.html",
        "list of filters.owner.html",
    ]
    with page.expect_download() as coming:
        page.get_by_role("link", name="list of filters.audited.xlsx").click()
    coming.value.save_as(tmp_path / "copy.xlsx")
    assert (tmp_path / "copy.xlsx").read_bytes()[:2] == b"PK"
    with page.context.expect_page() as coming:
        page.get_by_role("link", name="list of filters.summary.html").click()
    summary = coming.value
    summary.get_by_text("lines shown").wait_for()
    assert summary.locator("h1").inner_text() == "list of filters.xlsx"
    assert summary.evaluate("origin") == "null", "a result is no part of the page that made it"
    summary.locator(".big a").first.click()
    summary.wait_for_url("**#tier=now")
    page.get_by_role("button", name="Forget these results").click()
    page.get_by_text("Forgotten.").wait_for()
    assert not list(server.home.iterdir())


def test_the_page_and_the_results_in_spanish_and_trouble_too(page, workbook, tmp_path):
    notes = tmp_path / "notas.xlsx"
    notes.write_text("no es un libro", encoding="utf-8")
    with Server(lambda: AS_OF, language="es") as server:
        page.goto(server.address)
        assert page.evaluate("document.documentElement.lang") == "es"
        page.get_by_label("Fechas").select_option("day-first")
        # one after the other: the line that says what became of a file says it of the last one
        page.get_by_label("Libro (").set_input_files(workbook)
        page.get_by_text("list of filters.xlsx: listo.").wait_for(timeout=PATIENCE_MS)
        page.get_by_label("Libro (").set_input_files(notes)
        page.get_by_text("no es por dentro un libro").wait_for(timeout=PATIENCE_MS)
        with page.context.expect_page() as coming:
            page.get_by_role("link", name="list of filters.summary.html").click()
        coming.value.get_by_text("líneas", exact=False).first.wait_for()
        assert coming.value.evaluate("document.documentElement.lang") == "es"
        assert f"{AS_OF:%d/%m/%Y}" in coming.value.locator("header").inner_text()


def test_a_workbook_is_dropped(page, server, workbook):
    page.goto(server.address)
    data = list(workbook.read_bytes())
    page.evaluate(
        """data => { const held = new DataTransfer();
        held.items.add(new File([new Uint8Array(data)], "dropped.xlsx"));
        const event = new DragEvent("drop", { dataTransfer: held, bubbles: true });
        document.querySelector("#drop").dispatchEvent(event); }""",
        data,
    )
    page.get_by_text("dropped.xlsx: ready.").wait_for(timeout=PATIENCE_MS)


def test_two_at_once_and_trouble_beside_a_good_one(page, server, workbook, tmp_path):
    notes = tmp_path / "notes.xlsx"
    notes.write_bytes(b"these are notes <img src=x onerror=alert(1)>")
    page.goto(server.address)
    page.get_by_label("Workbook (").set_input_files([workbook, notes])
    page.locator("article .bad").wait_for(timeout=PATIENCE_MS)
    assert "notes.xlsx" in page.locator("article .bad").inner_text()
    page.locator("article a").first.wait_for(timeout=PATIENCE_MS)
    assert page.locator("article").count() == 2 and page.locator("article img").count() == 0


def test_a_file_that_is_too_large_is_not_even_sent(chromium, tmp_path):
    large = tmp_path / "large.xlsx"
    large.write_bytes(b"0" * (2**20 + 1))
    with Server(lambda: AS_OF, most_bytes=2**20) as server:
        page = chromium.new_page()
        sent: list[str] = []
        page.on("request", lambda request: sent.append(request.method))
        page.goto(server.address)
        page.get_by_label("Workbook (").set_input_files(large)
        page.get_by_text("larger than 1 MB").wait_for()
        assert "POST" not in sent
        page.close()


def test_a_page_of_another_site_gets_nothing(chromium, server, tmp_path):
    """A page from elsewhere that somehow knows the address can neither read nor send."""
    foreign = tmp_path / "foreign.html"
    foreign.write_text("<!doctype html><title>elsewhere</title>", encoding="utf-8")
    page = chromium.new_page()
    page.goto(foreign.as_uri())
    told = page.evaluate(
        """async address => { const found = [];
        const tries = [["", {}], ["audit?name=a.xlsx", { method: "POST", body: "x" }]];
        for (const [way, options] of tries)
            try {
                found.push(await (await fetch(address + way, options)).text());
            } catch (e) { found.push(e.name); }
        return found; }""",
        server.address,
    )
    assert told == ["TypeError", "TypeError"]
    assert not list(server.home.iterdir())
    page.close()


def test_stopping_from_the_page(page):
    with Server(lambda: AS_OF) as server:
        page.goto(server.address)
        page.get_by_role("button", name="Stop and forget everything").click()
        page.get_by_text("Nothing was kept").wait_for()
        assert page.locator("#file").is_disabled()


def test_axe_finds_nothing_on_the_page(page, server, workbook, tmp_path, mode):
    enter(page, mode)
    page.goto(server.address)
    assert not violations(page)
    notes = tmp_path / "notes.xlsx"
    notes.write_bytes(b"notes")
    page.get_by_label("Workbook (").set_input_files([workbook, notes])
    page.locator("article .bad").wait_for(timeout=PATIENCE_MS)
    page.locator("article a").first.wait_for(timeout=PATIENCE_MS)
    assert not violations(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
