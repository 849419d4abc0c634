"""The page's template, style and script, put together under a policy that allows nothing else.

A page is one file. Its content policy names the hash of its one style sheet and of its one script, so that
nothing which came in with a log's text could run or load anything, even if it slipped past the escaping.
``grade_sheet.css`` and ``grade_sheet.js`` in the template folder join the page's own where they exist.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import os
import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from analyser import CAUTION, __version__
from analyser.logbook.names import counted
from analyser.pages import words
from analyser.pages.captions import cause_words
from analyser.pages.grades import sheet_view

if TYPE_CHECKING:
    from jinja2 import BytecodeCache, Environment

_TEMPLATES = Path(__file__).parent / "templates"
#: Parts of the style and of the script, in order.
_STYLES = (
    "page.css",
    "debrief.css",
    "drawings.css",
    "show.css",
    "airspace.css",
    "grade_sheet.css",
    "paper.css",
)
_SCRIPTS = ("folds.js", "replay.js", "show.js", "grade_sheet.js")


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Return the templates' environment: every variable escaped, a missing one an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_template_cache(),
    )
    made.filters |= {
        "heading": words.heading,
        "feet": words.feet,
        "quantity": words.quantity,
        "turnable": words.turnable,
        "measured": words.measured,
        "cause": cause_words,
        "num": words.number,
        "plain": "{:g}".format,
        "clock": words.clock,
        "counted": counted,
        "lat": words.latitude,
        "lon": words.longitude,
    }
    made.globals |= {"missing": words.missing, "grade_sheet": sheet_view, "caution": CAUTION}
    return made


def shell() -> dict[str, Any]:
    """Return what the head of a debrief page needs: ``style``, ``script`` and ``policy``."""
    script = _joined(_SCRIPTS)
    return own_shell(*_STYLES, script=script) | {"script": Markup(script)}


def own_shell(*style_files: str, more: str = "", script: str = "") -> dict[str, Any]:
    """Return the style of a page and its policy, which allows this style (and script) and nothing else.

    ``more`` is style that the page adds to its files'.
    """
    style = _joined(("inks.css", *style_files)) + more
    allowed = f"script-src '{_hash(script)}'; " if script else ""
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; {allowed}"
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    return {"style": Markup(style), "policy": policy}


def render(template: str, *style_files: str, more: str = "", **shown: Any) -> str:
    """Fill in the template of a page without a script, with its style and policy."""
    page = environment().get_template(template)
    return page.render(**own_shell(*style_files, more=more), **shown)


def island(data: Any) -> Markup:
    """Write data for the script as JSON in which no character can end the script element or open a comment."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


@lru_cache(maxsize=8)
def _joined(names: tuple[str, ...]) -> str:
    files = [_TEMPLATES / name for name in names]
    lines = [line.strip() for file in files for line in file.read_text(encoding="utf-8").splitlines()]
    # Indentation serves readers of the source only; it would be a tenth of their weight in every page.
    text = "\n".join(line for line in lines if line and not line.startswith("// "))
    if not names[0].endswith(".css"):
        return text
    return re.sub(r"\s*([{};])\s*", r"\1", re.sub(r"/\*.*?\*/", "", text, flags=re.S))


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _template_cache() -> BytecodeCache | None:
    """Return where compiled templates are kept: compiling them takes a tenth of a debrief otherwise.

    None where no folder can be written; templates are then compiled each time, and nothing else changes. What is kept
    is checked against the template's text when it is used; the version is in the folder's name because the text alone
    does not tell how it was compiled.
    """
    from jinja2 import FileSystemBytecodeCache
    from jinja2.bccache import Bucket
    from platformdirs import user_cache_dir

    class TemplateCache(FileSystemBytecodeCache):
        def load_bytecode(self, bucket: Bucket) -> None:
            with contextlib.suppress(OSError):
                super().load_bytecode(bucket)

        def dump_bytecode(self, bucket: Bucket) -> None:
            # A template that cannot be kept for the next time must not stop the page.
            with contextlib.suppress(OSError):
                super().dump_bytecode(bucket)

    folder = Path(user_cache_dir("analyser", appauthor=False)) / f"templates-{__version__}"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        # Compiled code is run: a folder that another user could write to is not trusted.
        mine = not hasattr(os, "getuid") or folder.stat().st_uid == os.getuid()
        private = os.name == "nt" or not folder.stat().st_mode & 0o022
    except OSError:
        return None
    usable = mine and private and os.access(folder, os.W_OK)
    return TemplateCache(str(folder), "%s.compiled") if usable else None
