"""From a sheet to SVG that lives inside a page: no inline style, no foreign colour, no id, layers named."""

from __future__ import annotations

import io
import re
from itertools import groupby
from typing import Any
from xml.etree import ElementTree

from markupsafe import Markup, escape

from analyser.pages.figures.ink import variable
from analyser.pages.figures.sheet import Letter, Sheet

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
#: Properties of matplotlib's style attributes that carry a colour, and those that are kept as they are.
_COLOURS = ("fill", "stroke")
_KEPT = ("stroke-width", "stroke-dasharray", "opacity", "fill-opacity", "stroke-opacity")


def svg(sheet: Sheet, finding: str, *, name: str, **data: Any) -> Markup:
    """Write a sheet as an inline SVG element.

    Parameters
    ----------
    sheet : Sheet
    finding : str
        The text alternative: what the picture shows, in a sentence.
    name : str
        What kind of picture, for style and script: ``"plan"``.
    **data
        Further ``data-…`` attributes of the element.

    Returns
    -------
    Markup
        Safe to put into the page: everything written in it is escaped here.

    Notes
    -----
    A strict content policy forbids style attributes, so matplotlib's become presentation attributes, and its
    stand-in colours the style sheet's variables.
    """
    body = "".join(_layers(sheet))
    letters = "".join(_letters(sheet))
    box = f"0 0 {_short(sheet.width)} {_short(sheet.height)}"
    attributes = _data({"fig": name, **data})
    start = f'<svg class="fig fig-{escape(name)}" role="img" aria-label="{escape(finding)}"{attributes}'
    if not sheet.stretch:
        return Markup(f'{start} viewBox="{box}">{body}{letters}</svg>')
    # A strip is as wide as the page: its lines stretch, its lettering is placed in per cent and keeps its
    # shape.
    fill = 'preserveAspectRatio="none" width="100%" height="100%"'
    inner = f'<svg class="stretched" viewBox="{box}" {fill}>{body}</svg>'
    return Markup(f"{start}>{inner}{letters}</svg>")


def _layers(sheet: Sheet) -> list[str]:
    from matplotlib import rc_context

    text = io.StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "analyser", "path.simplify": False}):
        # Without a date and a version two runs give the same bytes.
        quiet = {"Date": None, "Creator": None, "Format": None, "Type": None}
        sheet.figure().savefig(text, format="svg", metadata=quiet)
    drawn = []
    for group in ElementTree.fromstring(text.getvalue()).iter(f"{_SVG}g"):
        gid = group.get("id", "")
        if gid.startswith("@"):
            layer, _, data = gid[1:].partition("|")
            paths = "".join(_path(element) for element in group.iter(f"{_SVG}path"))
            drawn.append((layer, _group(data, paths)))
    return [
        f'<g data-layer="{escape(layer)}">{"".join(content for _, content in members)}</g>'
        for layer, members in groupby(drawn, key=lambda item: item[0])
    ]


def _group(data: str, content: str) -> str:
    pairs = dict(pair.split("=", 1) for pair in data.split("|") if pair)
    return f"<g{_data(pairs)}>{content}</g>" if pairs else content


def _path(element: ElementTree.Element) -> str:
    style = dict(part.split(":", 1) for part in element.get("style", "").split(";") if ":" in part)
    clean = {key.strip(): value.strip() for key, value in style.items()}
    clean.setdefault("fill", "none")
    attributes = [f'{key}="{variable(clean[key])}"' for key in _COLOURS if key in clean]
    attributes += [f'{key}="{_round(clean[key])}"' for key in _KEPT if key in clean]
    outline = _round(" ".join(element.get("d", "").split())).replace(" L ", "L").replace("M ", "M")
    return f'<path {" ".join(attributes)} d="{outline.replace(" M", "M")}"/>'


def _letters(sheet: Sheet) -> list[str]:
    return [
        f'<g data-layer="{escape(layer)}">{"".join(_letter(letter, sheet) for letter in members)}</g>'
        for layer, members in groupby(sheet.letters, key=lambda letter: letter.layer)
    ]


def _letter(letter: Letter, sheet: Sheet) -> str:
    if sheet.stretch:
        x, y = f"{100 * letter.x / sheet.width:.2f}%", f"{100 * letter.y / sheet.height:.2f}%"
    else:
        x, y = _short(letter.x), _short(letter.y)
    anchor = "" if letter.anchor == "middle" else f' text-anchor="{letter.anchor}"'
    start = f'<text class="l-{letter.kind}"{anchor}{_data(letter.data)} x="{x}" y="{y}">'
    return f"{start}{escape(letter.text)}</text>"


def _data(pairs: dict[str, Any]) -> str:
    return "".join(f' data-{escape(key)}="{escape(str(value))}"' for key, value in pairs.items())


def _round(text: str) -> str:
    return _NUMBER.sub(lambda match: _short(float(match.group())), text)


def _short(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".") if number else "0"
