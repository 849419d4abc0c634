"""A page in a real browser, cut off from every network: what the browser tests share."""

from __future__ import annotations

import shutil
import subprocess
import tarfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.lacking import lacking

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
#: Quiet start: no first-run pages, no updates, nothing that reaches for a network.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass
class Watched:
    """A page with what it asked for and what it complained about."""

    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@contextmanager
def browser() -> Iterator[Any]:
    """Start the distribution's Chromium; without it the test is skipped, or fails where nothing may be."""
    if CHROMIUM is None:
        lacking("no Chromium on this machine: install the distribution's package 'chromium'")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        try:
            yield chromium
        finally:
            chromium.close()


@contextmanager
def opened(chromium: Any, file: Path, **context: Any) -> Iterator[Watched]:
    """Open a file in a context of its own without network, and note all that happens."""
    made = chromium.new_context(offline=True, **context)
    try:
        watched = Watched(made.new_page())
        watched.page.on("request", lambda request: watched.requests.append(request.url))
        watched.page.on(
            "console", lambda message: watched.complaints.append(f"{message.type}: {message.text}")
        )
        watched.page.on("pageerror", lambda error: watched.complaints.append(f"error: {error}"))
        watched.page.goto(file.as_uri())
        yield watched
    finally:
        made.close()


def axe_script(folder: Path) -> str:
    """Fetch the accessibility checker from the package registry into a temporary folder; without it skip, or fail."""
    npm = shutil.which("npm")
    if npm is None:
        lacking("no npm on this machine to fetch the accessibility checker with")
    # A registry may be out of breath for a moment.
    for pause_s in (0.0, 2.0, 10.0):
        time.sleep(pause_s)
        done = subprocess.run(
            [npm, "pack", "axe-core@4.14.1", "--silent"], cwd=folder, capture_output=True, check=False
        )
        archive = next(iter(folder.glob("axe-core-*.tgz")), None)
        if done.returncode == 0 and archive is not None:
            break
    else:
        lacking("the accessibility checker could not be fetched: no network or no registry")
    with tarfile.open(archive) as packed:
        member = packed.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode("utf-8")
