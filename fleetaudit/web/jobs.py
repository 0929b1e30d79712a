"""Audits asked for over the page: one folder each, at most a few kept, none after the end."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
import threading
import traceback
from collections import OrderedDict
from collections.abc import Callable
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.errors import FleetAuditError
from fleetaudit.language import ENGLISH, say, spoken
from fleetaudit.memory import sweep

KEPT = 8
NAME_LENGTH = 100
UNNAMED = "workbook.xlsx"
WORDS = {
    ".summary.html": "the summary: open it, print it, pass it on",
    ".owner.html": "one sheet of paper for the owner",
    ".xlsx": "your workbook with result columns and sheets",
    ".xlsm": "your workbook with result columns and sheets",
}
_UNSAFE = re.compile(r'[\x00-\x1f\x7f<>:"|?*\u202a-\u202e\u2066-\u2069\ud800-\udfff]')


class Wanted(Struct, frozen=True):
    """What was asked for along with the workbook."""

    as_of: date
    system: str | None = None
    owner_page: bool = False
    hide_crew_names: bool = False
    language: str | None = None
    dates: str | None = None


class Job(Struct):
    """One audit: how far it is, what it wrote, or what stood in its way."""

    name: str
    folder: Path
    wanted: Wanted
    stage: str = ""
    trouble: str = ""
    verdicts: dict[str, int] = field(default_factory=dict)
    files: dict[str, Path] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    done: threading.Event = field(default_factory=threading.Event)

    def state(self) -> dict[str, object]:
        """The same as the page reads it."""
        return {
            "name": self.name,
            "stage": self.stage,
            "done": self.done.is_set(),
            "trouble": self.trouble,
            "verdicts": self.verdicts,
            "files": [{"name": name, "words": words} for name, words in self.words.items()],
        }


class Jobs:
    """All jobs of one run of the server."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._guard, self._turn = threading.Lock(), threading.Lock()

    def start(self, name: str, body: bytes, wanted: Wanted) -> str:
        """Keep the workbook and audit it beside the caller; gives the key of the job."""
        key = secrets.token_urlsafe(12)
        folder = self._home / key
        folder.mkdir(mode=0o700)
        job = Job(safe_name(name), folder, wanted, say("waiting for its turn"))
        (folder / job.name).write_bytes(body)
        with self._guard:
            self._jobs[key] = job
            ended = [old for old, found in self._jobs.items() if found.done.is_set()]
            surplus = ended[: max(0, len(self._jobs) - KEPT)]
        for old in surplus:
            self.forget(old)
        threading.Thread(target=self._run, args=(job,), daemon=True).start()
        return key

    def get(self, key: str) -> Job | None:
        """The job of a key, None where it is not kept."""
        with self._guard:
            return self._jobs.get(key)

    def forget(self, key: str) -> bool:
        """Remove a job and everything it wrote; False where there is none."""
        with self._guard:
            job = self._jobs.pop(key, None)
        if job is None:
            return False
        shutil.rmtree(job.folder, ignore_errors=True)
        return True

    def _run(self, job: Job) -> None:
        with self._turn:
            try:
                self._audit(job)
            except Exception as trouble:  # what went wrong in the background is shown on the page
                with spoken(job.wanted.language or ENGLISH):
                    job.trouble = in_words(trouble)
            finally:
                job.done.set()
            sweep()
        with self._guard:
            kept = job in self._jobs.values()
        if not kept:
            shutil.rmtree(job.folder, ignore_errors=True)

    def _audit(self, job: Job) -> None:
        source, results = job.folder / job.name, job.folder / "results"
        wanted = job.wanted
        request = Request(
            workbook=source, as_of=wanted.as_of, folder=results, system=wanted.system,
            hide_crew_names=wanted.hide_crew_names, owner_page=wanted.owner_page, language=wanted.language,
            dates=wanted.dates,
        )  # fmt: skip
        written = audit_file(request, stage=_teller(job))
        source.unlink()
        with spoken(written.language, written.dates):
            job.verdicts = {say(word): count for word, count in written.report.by_verdict.items() if count}
            job.words = {path.name: _words(path.name) for path in written.paths}
        job.files = {path.name: path for path in written.paths}


def _teller(job: Job) -> Callable[[str], None]:
    def tell(stage: str) -> None:
        job.stage = stage

    return tell


def in_words(trouble: BaseException) -> str:
    """What stands in the way, in the words the shell uses."""
    if isinstance(trouble, FleetAuditError):
        return trouble.message
    if isinstance(trouble, MemoryError):
        return say("The computer ran out of memory. Close other programs, or audit the workbook in parts.")
    if isinstance(trouble, OSError):
        return say(
            "{trouble}. Nothing was written that is not complete.", trouble=trouble.strerror or trouble
        )
    return say(
        "Something unexpected went wrong ({kind}). Details are in {log}. Please report it.",
        kind=type(trouble).__name__,
        log=_log(trouble),
    )


def _log(trouble: BaseException) -> str:
    """Name of a file with the details of what nobody expected."""
    with tempfile.NamedTemporaryFile(
        "w", prefix="fleetaudit-", suffix=".log", delete=False, encoding="utf-8"
    ) as file:
        file.writelines(traceback.format_exception(trouble))
        return file.name


def safe_name(name: str) -> str:
    r"""Name of a workbook as a file may carry it, without folders and signs that mean something else.

    >>> safe_name(r"C:\lists\fleet 2026.xlsx"), safe_name("../../etc/passwd"), safe_name("..")
    ('fleet 2026.xlsx', 'passwd', 'workbook.xlsx')
    """
    last = _UNSAFE.sub("_", re.split(r"[/\\]", name)[-1]).strip(" .")
    if not last:
        return UNNAMED
    stem, dot, ending = last.rpartition(".")
    return f"{stem[:NAME_LENGTH]}{dot}{ending[:8]}" if dot else last[:NAME_LENGTH]


def _words(name: str) -> str:
    return next((say(words) for ending, words in WORDS.items() if name.endswith(ending)), "")
