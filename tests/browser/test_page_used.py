"""What people do with the page: follow a link, look at a drawing, print it, read it without scripts."""

from __future__ import annotations

import re
import subprocess

import pytest
from msgspec.structs import replace
from tests_report import make_report

from fleetaudit.writing.html import render


def test_a_link_opens_the_finding_and_its_drawing(page, folder):
    page.goto((folder / "large.html").as_uri())
    # the last line of a restrictor, far behind those on screen: the text of the others ends with it
    others = page.evaluate("document.querySelector('#rows noscript').textContent")
    anchor = re.findall(r'<tr id="(f-[^"]*restrictor[^"]*)"', others)[-1]
    assert not page.locator(f"#{anchor}").count()
    page.goto("about:blank")
    page.goto(f"{(folder / 'large.html').as_uri()}#{anchor}")
    row = page.locator(f"#{anchor}")
    assert row.locator("details").evaluate("d => d.open")
    box = row.locator("svg.w").bounding_box()
    assert box["width"] > 200 and row.locator("svg.w text").all_text_contents() == ["6", "8", "4 gpm"]
    places = row.locator("svg.w path").evaluate_all(
        "all => all.map(p => { const b = p.getBBox(); return [b.x, b.width]; })"
    )
    window = places[0]
    # 8 gpm is the highest flow, so 6 to 8 is the last quarter of it, and 4 its middle
    assert window[0] / (window[0] + window[1]) == pytest.approx(6 / 8, abs=0.01)


def test_an_address_with_a_filter_opens_at_the_list(page, folder):
    page.goto(f"{(folder / 'full.html').as_uri()}#tier=plan")
    page.get_by_text("9 of 18 lines shown").wait_for()
    page.wait_for_function("document.readyState === 'complete'")
    top = page.evaluate(
        "new Promise(d => requestAnimationFrame(() => requestAnimationFrame(() => d("
        "document.querySelector('#findings').getBoundingClientRect().top))))"
    )
    assert -5 <= top <= 100


def test_a_crew_that_differs_leads_to_its_lines(page, folder):
    page.goto((folder / "full.html").as_uri())
    page.get_by_role("link", name="Show the lines").click()
    assert page.evaluate("new URLSearchParams(location.hash.slice(1)).get('crew')") == "Crew B"
    page.get_by_text(re.compile(r"^\d of 18 lines shown")).wait_for()
    assert page.evaluate("document.querySelector('#filter').elements.crew.value") == "Crew B"
    shown = page.locator("#rows tbody tr td:last-child").all_inner_texts()
    assert set(shown) == {"Crew B"}


@pytest.mark.parametrize("width", [320, 700, 1280])
@pytest.mark.parametrize("name", ["full", "spanish"])
def test_pictures_have_size_name_and_twin(page, folder, name, width):
    page.set_viewport_size({"width": width, "height": 900})
    page.goto((folder / f"{name}.html").as_uri())
    drawings = page.locator("figure svg")
    assert drawings.count() == 7
    for number in range(7):
        drawing = drawings.nth(number)
        assert drawing.bounding_box()["height"] > 40
        inside = drawing.evaluate(
            """s => [...s.querySelectorAll('text')].filter(t => { const b = t.getBBox();
            const v = s.viewBox.baseVal;
            return b.x < -1 || b.x + b.width > v.width + 1 || b.y < -2
                || b.y + b.height > v.height + 2; })
            .map(t => t.textContent)"""
        )
        assert not inside, f"letters stand out of the drawing: {inside}"


def test_hostile_text_runs_nothing_on_any_page(page, folder):
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for name in ("hostile", "owner-hostile"):
        page.goto((folder / f"{name}.html").as_uri())
        assert page.evaluate("window.pwned === undefined")
        assert page.locator("img").count() == 0
    assert len(asked) == 2, "nothing is loaded but the pages"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_owners_page_prints_on_one_sheet(page, folder, tmp_path, paper):
    for name in ("owner", "owner-hostile"):
        page.goto((folder / f"{name}.html").as_uri())
        path = tmp_path / f"{name}.pdf"
        page.pdf(path=path, format=paper)
        told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Pages:\s+1$", told, re.MULTILINE), name


def test_the_summary_prints_every_line_with_its_why(page, folder, tmp_path):
    page.goto((folder / "full.html").as_uri())
    path = tmp_path / "summary.pdf"
    page.pdf(path=path, format="A4", landscape=True)
    text = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    for number in (0, 1, 2, 3, 9, 18):
        assert f"U-{number:04d}" in text
    assert "packs and channels" in re.sub(r"\s+", " ", text), "the reason of an opened finding"


def test_without_scripts_everything_is_there(chromium, folder):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((folder / "large.html").as_uri())
    assert page.locator("#rows tbody tr").count() == 1200
    assert page.locator("#rows tbody tr").last.is_visible()
    assert not page.locator("#filter").is_visible()
    assert page.locator("#by-crew").is_visible()
    context.close()


def test_a_page_in_spanish_with_a_plan_filters_by_route_day(page, folder):
    page.goto((folder / "spanish.html").as_uri())
    assert page.evaluate("document.documentElement.lang") == "es"
    day = "29/11/2026, Crew B"
    page.locator(".counted[data-field=day]").get_by_role("link", name=day).click()
    page.get_by_text(re.compile(r"^se muestran \d+ de 18 líneas")).wait_for()
    assert page.evaluate("document.querySelector('#filter').elements.day.value") == day
    assert set(page.locator("#rows tbody tr td:nth-child(9)").all_inner_texts()) == {day}
    page.get_by_role("button", name="Mostrar todo").click()
    page.get_by_text("se muestran 18 de 18 líneas").wait_for()
    # the word of a tier in the address is that of the page
    page.locator(".big a.plan").click()
    assert page.evaluate("new URLSearchParams(location.hash.slice(1)).get('tier')") == "planear"
    assert set(page.locator("#rows tbody tr td:first-child").all_inner_texts()) == {"planear"}


def test_lines_made_from_text_hold_what_was_typed(page, folder, tmp_path):
    """Blank lines, markup and signs in a name, in a line that is not on screen when the page opens."""
    name = 'Mill & Sons <b>\n\n"north" </tbody></noscript><script>alert(1)</script>'
    report = make_report(400, every_unit_found=True)
    report.findings = [*report.findings[:-1], replace(report.findings[-1], account=name)]
    path = tmp_path / "odd.html"
    path.write_text(render(report), encoding="utf-8")
    page.goto(path.as_uri())
    page.locator("#filter input").fill("mill north")
    page.get_by_text("1 of 400 lines shown").wait_for()
    cells = page.locator("#rows tbody tr td")
    assert cells.nth(1).text_content().strip() == name and cells.count() == 8
    assert page.locator("#rows tbody tr summary").count() == 1
    assert name in page.locator("#filter select[name=account] option").all_text_contents()
