"""Pages to PDF, by a browser that is on this machine: pages are made for one, and print as they look in it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from vesselspec.revisions import RevisionError

#: Browsers that print without a window, by the names of their programs.
_PROGRAMS: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
#: Names the program to use instead.
VARIABLE: Final = "VESSELSPEC_BROWSER"
_TIMEOUT_S: Final = 180.0
_MOST_PASSES: Final = 6
#: Nothing is asked of any network, and nothing of the user's own browser is used or changed.
_FLAGS: Final = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-extensions",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--no-pdf-header-footer",
)
#: Headings that a reader can jump to, and words in their order for who cannot see them: half the time that it takes.
_FINISHED: Final = "--generate-pdf-document-outline"
_DRAFT: Final = "--disable-pdf-tagging"


def to_pdf(page: str, beside: Mapping[str, bytes] | None = None, *, draft: bool = False) -> bytes:
    """Print one page, with the files that it shows beside it by their relative names.

    A `draft` looks the same, without outline and structure: to see what comes to stand where.
    Raises RevisionError where no browser is there or it makes no PDF.
    """
    browser = _browser()
    # A browser's own fence around its pages needs an ordinary user; ours hold no script of a record's making.
    fence = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    with tempfile.TemporaryDirectory(prefix="vesselspec-") as name:
        folder = Path(name)
        source, made = folder / "page.html", folder / "page.pdf"
        source.write_text(page, encoding="utf-8")
        for path, content in (beside or {}).items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(content)
        flags = (*_FLAGS, _DRAFT if draft else _FINISHED)
        asked = [browser, *flags, *fence, f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={made}"]
        try:
            done = subprocess.run([*asked, source.as_uri()], capture_output=True, timeout=_TIMEOUT_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise _failed(browser, str(error)) from error
        if done.returncode != 0 or not made.is_file():
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise _failed(browser, said[-1] if said else f"exit {done.returncode}")
        return made.read_bytes()


def book_to_pdf(files: Mapping[str, bytes], *, title: str, stamp: str, paper: str) -> bytes:
    """A hand-over book as one PDF with contents and references to its pages.

    It is printed until the page numbers that it gives are those that it has: once in draft and once more, as a rule.
    """
    from vesselspec.book.printed import numbers_of, printed

    beside = {name: content for name, content in files.items() if not name.endswith(".html")}
    numbers: dict[str, int] = {}
    for _ in range(_MOST_PASSES):
        page = printed(files, title=title, stamp=stamp, paper=paper, numbers=numbers)
        pdf = to_pdf(page, beside, draft=not numbers)
        found = numbers_of(pdf)
        if numbers and found == numbers:
            return pdf
        numbers = found
    raise RevisionError("The pages of the printed book do not come to rest.", "Leave out --pdf and print single pages.")


def _browser() -> str:
    named = os.environ.get(VARIABLE)
    found = shutil.which(named) if named else next(filter(None, map(shutil.which, _PROGRAMS)), None)
    if found is None:
        looked = named or ", ".join(_PROGRAMS)
        raise RevisionError(
            f"There is no browser here that makes a PDF (looked for {looked}).",
            f"Install one (Debian: apt install chromium), or name its program in {VARIABLE}; or leave out --pdf, "
            "open the page in any browser and print it from there.",
        )
    return found


def _failed(browser: str, said: str) -> RevisionError:
    return RevisionError(
        f"{Path(browser).name} made no PDF: {said}.", "Leave out --pdf, open the page and print it from there."
    )
