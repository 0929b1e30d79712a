"""The page's server over plain HTTP: who is let in, what is taken, what comes back, what is left."""

from __future__ import annotations

import http.client
import io
import json
import re
import threading
import time
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.errors import InputError, OutputError
from fleetaudit.web import jobs as web_jobs
from fleetaudit.web.jobs import in_words, safe_name
from fleetaudit.web.server import Server

DAY = date(2026, 11, 1)
PATIENCE_S = 60
LIMIT = 2 * 2**20


@pytest.fixture
def server():
    with Server(lambda: DAY, most_bytes=LIMIT) as running:
        yield running


def ask(server, method, way, body=None, *, host=None, origin="own", token=None, headers=None):
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE_S)
    said = {"Host": host or f"127.0.0.1:{server.port}"} | (headers or {})
    if origin:
        said["Origin"] = f"http://127.0.0.1:{server.port}" if origin == "own" else origin
    try:
        connection.request(method, f"/{token or server.token}/{way}", body, said)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read()
    finally:
        connection.close()


def small_fleet(rows=3) -> bytes:
    """An invented list; one restrictor is far too small for its bed."""
    book = openpyxl.Workbook()
    page = book.active
    page.title = "Units"
    page.append(["Unit", "Account", "Media", "Tank size", "DLFC (gpm)", "Crew"])
    for number in range(rows):
        page.append(
            [f"U-{number}", f"Invented {number}", "filter sand", "13x54", 1.5 if number == 0 else 12, "Birch"]
        )
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def audited(server, body, query="name=fleet.xlsx"):
    status, _, answer = ask(server, "POST", f"audit?{query}", body)
    assert status == 202, answer
    return json.loads(answer)["job"]


def finished(server, key):
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        _, _, answer = ask(server, "GET", f"job/{key}")
        state = json.loads(answer)
        if state["done"]:
            return state
        time.sleep(0.05)
    raise AssertionError("the audit did not end")


def test_an_upload_is_audited_and_the_results_download(server):
    key = audited(server, small_fleet(), "name=fleet.xlsx&owner=1")
    state = finished(server, key)
    assert not state["trouble"] and sum(state["verdicts"].values()) == 3
    names = [file["name"] for file in state["files"]]
    assert names == ["fleet.audited.xlsx", "fleet.summary.html", "fleet.owner.html"]
    status, headers, copy = ask(server, "GET", f"job/{key}/file/fleet.audited.xlsx")
    assert status == 200 and headers["Content-Disposition"].startswith("attachment")
    page = openpyxl.load_workbook(io.BytesIO(copy))["Units"]
    assert [cell.value for cell in page["A"]] == ["Unit", "U-0", "U-1", "U-2"]
    assert "Audit: verdict" in [cell.value for cell in page[1]]
    status, headers, summary = ask(server, "GET", f"job/{key}/file/fleet.summary.html")
    assert status == 200 and b"Filter audit" in summary and "sandbox" in headers["Content-Security-Policy"]


def test_units_and_codes_are_as_asked(server):
    key = audited(server, small_fleet(), "name=fleet.xlsx&units=metric&hide=1")
    finished(server, key)
    _, _, copy = ask(server, "GET", f"job/{key}/file/fleet.audited.xlsx")
    page = openpyxl.load_workbook(io.BytesIO(copy))["Units"]
    assert "Audit: fitted restrictor (L/min)" in [cell.value for cell in page[1]]
    _, _, summary = ask(server, "GET", f"job/{key}/file/fleet.summary.html")
    assert b"Birch" not in summary


def test_two_uploads_at_once_keep_to_themselves(server):
    bodies = {"one.xlsx": small_fleet(3), "two.xlsx": small_fleet(5)}
    keys: dict[str, str] = {}

    def send(name):
        keys[name] = audited(server, bodies[name], f"name={name}")

    threads = [threading.Thread(target=send, args=(name,)) for name in bodies]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    counts = {name: sum(finished(server, key)["verdicts"].values()) for name, key in keys.items()}
    assert counts == {"one.xlsx": 3, "two.xlsx": 5}
    status, _, _ = ask(server, "GET", f"job/{keys['one.xlsx']}/file/two.audited.xlsx")
    assert status == 404


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "localhost", "127.0.0.1", "[::1]:80", ""]
)
def test_a_wrong_host_is_refused(server, host):
    status, _, answer = ask(server, "GET", "", headers={"Host": host})
    assert status == 403 and server.token.encode() not in answer


def test_the_other_name_of_this_computer_is_let_in(server):
    assert ask(server, "GET", "", host=f"localhost:{server.port}", origin=None)[0] == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"])
def test_a_page_of_another_site_is_refused(server, origin):
    for method in ("GET", "POST"):
        assert ask(server, method, "audit?name=a.xlsx", small_fleet(), origin=origin)[0] == 403
    assert not list(server.home.iterdir())


def test_a_change_without_an_origin_is_refused(server):
    assert ask(server, "POST", "audit?name=a.xlsx", small_fleet(), origin=None)[0] == 403
    assert ask(server, "POST", "stop", origin=None)[0] == 403


@pytest.mark.parametrize("token", ["x", "..", "%2e%2e", "\u00fc".encode().hex()])
def test_without_the_token_there_is_nothing(server, token):
    for way in ("", "job/x", "audit"):
        status, _, answer = ask(server, "GET", way, token=token)
        assert status == 404 and server.token.encode() not in answer


def test_a_file_that_is_too_large_is_refused_before_it_is_read(server):
    status, _, answer = ask(server, "POST", "audit?name=a.xlsx", headers={"Content-Length": str(LIMIT + 1)})
    assert status == 413 and "larger than 2 MB" in json.loads(answer)["trouble"]
    assert not list(server.home.iterdir())


def test_a_file_of_unknown_length_is_refused(server):
    status, _, _ = ask(server, "POST", "audit?name=a.xlsx", headers={"Transfer-Encoding": "chunked"})
    assert status == 411
    assert ask(server, "POST", "audit?name=a.xlsx", headers={"Content-Length": "-1"})[0] in (400, 411)


def test_trouble_reads_as_in_the_shell(server):
    state = finished(server, audited(server, b"no workbook at all", "name=notes.xlsx"))
    assert "notes.xlsx" in state["trouble"] and "Traceback" not in state["trouble"]
    assert str(server.home) not in state["trouble"] and not state["files"]


def test_the_unexpected_is_said_too(server, monkeypatch):
    def stumble(*_arguments, **_named):
        raise RuntimeError("secret of the code")

    monkeypatch.setattr(web_jobs, "audit_file", stumble)
    state = finished(server, audited(server, small_fleet()))
    assert "RuntimeError" in state["trouble"] and "secret" not in state["trouble"]
    log = Path(re.search(r"Details are in (\S+\.log)", state["trouble"])[1])
    assert "secret of the code" in log.read_text(encoding="utf-8")
    log.unlink()


def test_names_do_not_lead_out_of_the_folder(server):
    key = audited(server, small_fleet(), "name=..%2F..%2F..%2Ftmp%2Fout.xlsx")
    state = finished(server, key)
    assert state["name"] == "out.xlsx"
    for name in ("..%2f..%2fout.xlsx", "%2e%2e/results", "/etc/passwd", "out.xlsx"):
        assert ask(server, "GET", f"job/{key}/file/{name}")[0] == 404


@pytest.mark.parametrize(
    ("given", "kept"),
    [("a/b\\c.xlsx", "c.xlsx"), ("", "workbook.xlsx"), ("..", "workbook.xlsx"),
     ("x\x00\u202ey.xlsx", "x__y.xlsx"),
     ("\u6771\u4eac.xlsx", "\u6771\u4eac.xlsx"), ("n" * 300 + ".xlsx", "n" * 100 + ".xlsx")],
)  # fmt: skip
def test_safe_names(given, kept):
    assert safe_name(given) == kept


def test_every_answer_forbids_keeping_and_guessing(server):
    for way, origin in (("", "own"), ("job/none", "own"), ("", "http://evil.example")):
        _, headers, _ = ask(server, "GET", way, origin=origin)
        assert headers["Cache-Control"] == "no-store" and headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer" and headers["X-Frame-Options"] == "DENY"


def test_the_workbook_goes_after_the_audit_the_results_when_forgotten_and_all_at_the_end():
    with Server(lambda: DAY) as server:
        key = audited(server, small_fleet())
        finished(server, key)
        kept = [path.name for path in server.home.rglob("*") if path.is_file()]
        assert sorted(kept) == ["fleet.audited.xlsx", "fleet.summary.html"]
        assert ask(server, "POST", f"job/{key}/forget")[0] == 200
        assert not list(server.home.iterdir()) and ask(server, "GET", f"job/{key}")[0] == 404
        finished(server, audited(server, small_fleet()))
        home: Path = server.home
        assert home.exists()
    assert not home.exists()


def test_only_a_few_results_are_kept(server):
    keys = [audited(server, small_fleet(1)) for _ in range(web_jobs.KEPT + 2)]
    for key in keys[-web_jobs.KEPT + 1 :]:
        finished(server, key)
    finished(server, audited(server, small_fleet(1)))
    assert len(list(server.home.iterdir())) <= web_jobs.KEPT
    assert ask(server, "GET", f"job/{keys[0]}")[0] == 404


def test_the_page_can_stop_the_server():
    server = Server(lambda: DAY)
    thread = threading.Thread(target=server.serve)
    thread.start()
    assert ask(server, "POST", "stop")[0] == 200
    thread.join(PATIENCE_S)
    assert not thread.is_alive()
    server.close()


def test_it_listens_on_this_computer_only(server):
    assert server._http.server_address[0] == "127.0.0.1"


def test_words_for_trouble():
    assert in_words(InputError("Say it so.")) == "Say it so."
    assert in_words(OutputError("Not written.")) == "Not written."
    assert "memory" in in_words(MemoryError()) and "No space" in in_words(OSError(28, "No space left"))
