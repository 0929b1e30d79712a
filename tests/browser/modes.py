"""The three modes each page is looked at in, and what axe-core finds there."""

from __future__ import annotations

from typing import Any

#: width in CSS pixels and colour scheme
MODES = {"light": (1280, "light"), "dark": (1280, "dark"), "narrow": (320, "light")}
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def enter(page: Any, mode: str) -> None:
    """Give the page the width and the colours of a mode."""
    width, scheme = MODES[mode]
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)


def violations(page: Any) -> list[str]:
    """Rules that are broken, each with the element that breaks it."""
    from axe_playwright_python.sync_playwright import Axe  # noqa: PLC0415 - skipped where it is missing

    found = Axe().run(page, options={"runOnly": TAGS, "resultTypes": ["violations"]})
    assert found.response["testEngine"]["name"] == "axe-core"
    assert found.response["passes"], "rules must have run"
    broken = found.response["violations"]
    return [f"{rule['id']}: {node['html'][:160]}" for rule in broken for node in rule["nodes"]]
