"""A server for one person on one computer: a page to drop a workbook on, nothing for anybody else.

It listens on the loopback address only. Each request must carry the token of this run in its path and name
this server as its host, so that no page of another site can reach it, by whatever name (DNS rebinding);
what changes something must also come from the page itself (Origin).
"""

from __future__ import annotations

import hmac
import json
import secrets
import tempfile
import threading
from collections.abc import Callable
from datetime import date
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import TracebackType
from typing import Any, ClassVar, Self
from urllib.parse import parse_qs, quote, unquote, urlsplit

from markupsafe import Markup

from fleetaudit.assets import read_text
from fleetaudit.language import DATE_STYLES, ENGLISH, LANGUAGES, say, spoken
from fleetaudit.schema.version import VERSION
from fleetaudit.web.jobs import KEPT, Jobs, Wanted
from fleetaudit.writing.page import content_hash, environment, lean

ADDRESS = "127.0.0.1"
MOST_BYTES = 20 * 1024 * 1024
PATIENCE_S = 60.0
SYSTEMS = ("us", "metric")
HTML, JSON = "text/html; charset=utf-8", "application/json; charset=utf-8"
TYPES = {
    ".html": HTML,
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".xlsm": "application/vnd.ms-excel.sheet.macroEnabled.12",
}
#: sentences that the script of the page says, by its own word for each
SAYS = {
    "stopped": "The program has stopped. Start it again, and use the address it prints.",
    "failed": "{name}: could not be audited.",
    "ready": "{name}: ready.",
    "forget": "Forget these results",
    "forgotten": "Forgotten.",
    "sending": "sending",
    "auditing": "{name}: being audited.",
    "bar": "Audit of {name}",
    "large": "The file is larger than {most} MB. Audit it in the shell: fleetaudit audit FILE",
    "ended": "Stopped. Nothing was kept. You can close this page.",
}
#: what every answer carries
GUARDS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}
#: a result is a page of its own and no part of this one
ALONE = "sandbox allow-scripts allow-downloads allow-modals"


class Server:
    """One run: a port, a token, a folder that goes with it."""

    def __init__(
        self,
        today: Callable[[], date],
        port: int = 0,
        most_bytes: int = MOST_BYTES,
        language: str | None = None,
        dates: str | None = None,
    ) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="fleetaudit-")
        self.home = Path(self._folder.name)
        self.today, self.most_bytes = today, most_bytes
        self.language, self.dates = language, dates
        self.jobs = Jobs(self.home)
        self.token = secrets.token_urlsafe(24)
        handler = type("Handler", (_Handler,), {"run": self})
        self._http = ThreadingHTTPServer((ADDRESS, port), handler)
        self._http.daemon_threads = True

    @property
    def port(self) -> int:
        """The port that was free."""
        return int(self._http.server_address[1])

    @property
    def address(self) -> str:
        """Where the page is; whoever knows it may use it."""
        return f"http://{ADDRESS}:{self.port}/{self.token}/"

    @property
    def hosts(self) -> tuple[str, ...]:
        """Names by which a request may call this server."""
        return (f"{ADDRESS}:{self.port}", f"localhost:{self.port}")

    def serve(self) -> None:
        """Answer until stopped."""
        self._http.serve_forever(poll_interval=0.2)

    def stop(self) -> None:
        """Answer nobody any more; may be called from within a request."""
        threading.Thread(target=self._http.shutdown, daemon=True).start()

    def close(self) -> None:
        """Free the port and remove everything that was kept."""
        self._http.server_close()
        self._folder.cleanup()

    def __enter__(self) -> Self:
        threading.Thread(target=self.serve, daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._http.shutdown()
        self.close()

    def page(self) -> str:
        """The page with its style and script inside."""
        style, script = lean(read_text("templates/serve.css")), lean(read_text("templates/serve.js"))
        return (
            environment()
            .get_template("serve.html.j2")
            .render(
                style=Markup(style),
                script=Markup(script),
                style_hash=content_hash(style),
                script_hash=content_hash(script),
                most=self.most_bytes,
                kept=KEPT,
                languages=LANGUAGES,
                chosen=self.language,
                dates=self.dates,
                says={key: say(text) for key, text in SAYS.items()},
                version=VERSION,
            )
        )


class _Refused(Exception):
    """A request that is not answered, with the reason."""

    def __init__(self, status: HTTPStatus, words: str) -> None:
        super().__init__(words)
        self.status, self.words = status, words


class _Handler(BaseHTTPRequestHandler):
    run: ClassVar[Server]
    timeout = PATIENCE_S
    server_version, sys_version = "fleetaudit", ""
    protocol_version = "HTTP/1.1"

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: a line of the log would hold the token."""

    def do_GET(self) -> None:
        """Page, state of a job, or a result."""
        self._answer(self._get)

    def do_POST(self) -> None:
        """A workbook, or the wish to forget or to stop."""
        self._answer(self._post)

    def _answer(self, act: Callable[[list[str]], None]) -> None:
        try:
            with spoken(self.run.language or ENGLISH):
                act(self._way())
        except _Refused as no:
            self.close_connection = True  # the rest of the request is not read
            self._send(no.status, JSON, json.dumps({"trouble": no.words}).encode())
        except (ConnectionError, TimeoutError):
            self.close_connection = True

    def _way(self) -> list[str]:
        """Parts of the path behind the token; refuses what is not meant for this run."""
        if self.headers.get("Host", "") not in self.run.hosts:
            raise _Refused(HTTPStatus.FORBIDDEN, say("This server answers to its own address only."))
        origin = self.headers.get("Origin")
        own = [f"http://{host}" for host in self.run.hosts]
        if (origin is not None and origin not in own) or (self.command == "POST" and origin is None):
            raise _Refused(HTTPStatus.FORBIDDEN, say("This server answers to its own page only."))
        token, *way = [unquote(part) for part in urlsplit(self.path).path.split("/")[1:]]
        if not hmac.compare_digest(token.encode(), self.run.token.encode()):
            raise _Refused(
                HTTPStatus.NOT_FOUND, say("There is nothing here. Use the whole address that was printed.")
            )
        return way

    def _get(self, way: list[str]) -> None:
        match way:
            case [""]:
                self._send(HTTPStatus.OK, HTML, self.run.page().encode())
            case ["job", key]:
                job = self._job(key)
                self._send(HTTPStatus.OK, JSON, json.dumps(job.state()).encode())
            case ["job", key, "file", name]:
                path = self._job(key).files.get(name)
                if path is None:
                    raise _Refused(HTTPStatus.NOT_FOUND, say("There is no such result."))
                self._send_file(path)
            case _:
                raise _Refused(HTTPStatus.NOT_FOUND, say("There is nothing here."))

    def _post(self, way: list[str]) -> None:
        match way:
            case ["audit"]:
                key = self._upload()
                self._send(HTTPStatus.ACCEPTED, JSON, json.dumps({"job": key}).encode())
            case ["job", key, "forget"]:
                self._job(key)
                self.run.jobs.forget(key)
                self._send(HTTPStatus.OK, JSON, b"{}")
            case ["stop"]:
                self._send(HTTPStatus.OK, JSON, b"{}")
                self.run.stop()
            case _:
                raise _Refused(HTTPStatus.NOT_FOUND, say("There is nothing here."))

    def _job(self, key: str) -> Any:
        job = self.run.jobs.get(key)
        if job is None:
            raise _Refused(
                HTTPStatus.NOT_FOUND, say("These results are no longer kept. Drop the workbook again.")
            )
        return job

    def _upload(self) -> str:
        length = self.headers.get("Content-Length", "")
        if self.headers.get("Transfer-Encoding") or not (length.isascii() and length.isdigit()):
            raise _Refused(
                HTTPStatus.LENGTH_REQUIRED, say("The browser did not say how large the file is. Try another.")
            )
        if int(length) > self.run.most_bytes:
            raise _Refused(
                HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
                say(
                    "The file is larger than {most} MB. Audit it in the shell: fleetaudit audit FILE",
                    most=self.run.most_bytes // 2**20,
                ),
            )
        asked = {name: values[0] for name, values in parse_qs(urlsplit(self.path).query).items()}
        body = self.rfile.read(int(length))
        if len(body) != int(length):
            raise _Refused(HTTPStatus.BAD_REQUEST, say("The file did not arrive whole. Drop it again."))
        system = asked.get("units", "")
        language, dates = asked.get("language", ""), asked.get("dates", "")
        wanted = Wanted(
            as_of=self.run.today(),
            system=system if system in SYSTEMS else None,
            owner_page="owner" in asked,
            hide_crew_names="hide" in asked,
            language=language if language in LANGUAGES else None,
            dates=dates if dates in DATE_STYLES else None,
        )
        return self.run.jobs.start(asked.get("name", ""), body, wanted)

    def _send_file(self, path: Path) -> None:
        kind = TYPES.get(path.suffix.lower(), "application/octet-stream")
        way = "inline" if kind is HTML else "attachment"
        headers = {"Content-Disposition": f"{way}; filename*=UTF-8''{quote(path.name, safe='')}"}
        if kind is HTML:
            headers["Content-Security-Policy"] = ALONE
        self._send(HTTPStatus.OK, kind, path.read_bytes(), headers)

    def _send(
        self, status: HTTPStatus, kind: str, body: bytes, headers: dict[str, str] | None = None
    ) -> None:
        self.send_response(status)
        for name, value in (GUARDS | (headers or {})).items():
            self.send_header(name, value)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)
