"""A page in a real browser, cut off from every network: what the browser tests share."""

from __future__ import annotations

import shutil
import subprocess
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

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
    """Start the distribution's Chromium, or skip with the reason."""
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine: install the distribution's package 'chromium'")
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
    """Fetch the accessibility checker from the package registry into a temporary folder, or skip."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm on this machine to fetch the accessibility checker with")
    done = subprocess.run(
        [npm, "pack", "axe-core@4.10.3", "--silent"], cwd=folder, capture_output=True, check=False
    )
    archive = next(iter(folder.glob("axe-core-*.tgz")), None)
    if done.returncode != 0 or archive is None:
        pytest.skip("the accessibility checker could not be fetched: no network or no registry")
    with tarfile.open(archive) as packed:
        member = packed.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode("utf-8")
