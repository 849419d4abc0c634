"""The page's template, style and script, put together under a policy that allows nothing else.

A page is one file. Its content policy names the hash of its one style sheet and of its one script, so that
nothing which came in with a log's text could run or load anything, even if it slipped past the escaping.
``grade_sheet.css`` and ``grade_sheet.js`` in the template folder join the page's own where they exist.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from analyser.pages import marks, words
from analyser.pages.compiled import template_cache
from analyser.pages.grade_sheet import sheet_view

if TYPE_CHECKING:
    from jinja2 import Environment

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
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("analyser.pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=template_cache(),
    )
    made.filters |= {
        "heading": marks.heading,
        "feet": marks.feet,
        "quantity": marks.quantity,
        "turnable": marks.turnable,
        "num": words.number,
        "plain": "{:g}".format,
        "clock": words.clock,
        "lat": words.latitude,
        "lon": words.longitude,
    }
    made.globals |= {"missing": marks.missing, "grade_sheet": sheet_view}
    return made


def shell() -> dict[str, Any]:
    """Return what every page's head needs.

    Returns
    -------
    dict
        ``style`` and ``script`` as safe text and ``policy``, the content of the policy's meta element.
    """
    style, script = _joined(_STYLES), _joined(_SCRIPTS)
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    return {"style": Markup(style), "script": Markup(script), "policy": policy}


def own_shell(style_file: str) -> dict[str, Any]:
    """Return the same for a page with a style of its own and no script."""
    style = _joined((style_file,))
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; img-src data:; base-uri 'none'; form-action 'none'"
    )
    return {"style": Markup(style), "policy": policy}


def island(data: Any) -> Markup:
    """Write data for the script into the page.

    Parameters
    ----------
    data : JSON-able

    Returns
    -------
    Markup
        JSON in which no character can end the script element or open a comment.
    """
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


@lru_cache(maxsize=4)
def _joined(names: tuple[str, ...]) -> str:
    folder = resources.files("analyser.pages") / "templates"
    files = [folder / name for name in names]
    lines = [line.strip() for file in files for line in file.read_text(encoding="utf-8").splitlines()]
    # Indentation is for who reads the source; it would be a tenth of their weight in every page.
    text = "\n".join(line for line in lines if line and not line.startswith("// "))
    if not names[0].endswith(".css"):
        return text
    return re.sub(r"\s*([{};])\s*", r"\1", re.sub(r"/\*.*?\*/", "", text, flags=re.S))


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
