"""From a canvas to SVG that lives inside a page: no inline style, no foreign colour, layers named."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import chain, groupby, pairwise
from typing import Any

import numpy as np
from markupsafe import Markup, escape

from analyser.pages.figures.canvas import Canvas, Letter, Stroke

#: Points are written to a tenth of a drawing unit, as finely as lines are thinned.
_PER_UNIT = 10
#: Layers that other pictures use whole, and those that they use by circuit.
_SHARED, _BY_CIRCUIT = ("airspace",), ("flown", "ideal", "reflown")


def svg(
    canvas: Canvas,
    says: str,
    *,
    name: str,
    caption: str = "",
    ids: str = "",
    under: Markup | str = "",
    **data: Any,
) -> Markup:
    """Write a canvas as an inline SVG element, everything in it escaped.

    ``says`` is the text alternative, what the picture shows, in a sentence; where it has a ``caption``, that element's
    id, what the page's switches hide there is hidden in the name too. ``name`` is its kind, for style and script:
    ``"plan"``. With ``ids``, ``"h1"``, each circuit's lines get an ``id`` that begins so, for other pictures to use;
    ``under`` is drawn first; ``data`` become ``data-…`` attributes. A strict content policy forbids style attributes,
    so there are only presentation attributes, and colours are the style sheet's variables.
    """
    body = under + Markup("".join(_layers(canvas, ids)))
    letters = "".join(_letters(canvas))
    box = f"0 0 {_short(canvas.width)} {_short(canvas.height)}"
    attributes = _data({"fig": name, **data})
    called = f'aria-labelledby="{escape(caption)}"' if caption else f'aria-label="{escape(says)}"'
    start = f'<svg class="fig fig-{escape(name)}" role="img" {called}{attributes}'
    if not canvas.stretch:
        return Markup(f'{start} viewBox="{box}">{body}{letters}</svg>')
    # A strip is as wide as the page: its lines stretch, its lettering is placed in per cent and keeps its
    # shape.
    fill = 'preserveAspectRatio="none" width="100%" height="100%"'
    inner = f'<svg class="stretched" viewBox="{box}" {fill}>{body}</svg>'
    return Markup(f"{start}>{inner}{letters}</svg>")


def used(target: str, from_canvas: Canvas, to_canvas: Canvas) -> Markup:
    """Draw another picture's element (its ``id``) again, where it belongs on this canvas of the same map."""
    here, there = from_canvas.mapping(), to_canvas.mapping()
    times = there["kx"] / here["kx"]
    right, down = there["ox"] - times * here["ox"], there["oy"] - times * here["oy"]
    move = f"translate({_short(right)} {_short(down)}) scale({times:.4g})"
    return Markup('<use href="#{}" transform="{}"/>').format(target, move)


def part_id(ids: str, layer: str, circuit: int, cause: str = "") -> str:
    """Return the ``id`` under which a circuit's lines of a layer can be used."""
    return "-".join(part for part in (ids, layer, str(circuit), cause) if part)


def _layers(canvas: Canvas, ids: str) -> Iterator[str]:
    for layer, strokes in groupby(canvas.strokes, key=lambda stroke: stroke.layer):
        parts = "".join(_part(layer, part, list(same), ids) for part, same in groupby(strokes, key=_belongs))
        yield f'<g data-layer="{escape(layer)}">{parts}</g>'


def _belongs(stroke: Stroke) -> tuple[int | None, str]:
    return stroke.data.get("circuit"), stroke.data.get("cause", "")


def _part(layer: str, part: tuple[int | None, str], strokes: list[Stroke], ids: str) -> str:
    """Group what belongs to one circuit; the ``id`` lies within what the page hides."""
    circuit, cause = part
    drawn = "".join(map(_drawn, strokes))
    if circuit is None:
        return f'<g id="{ids}-{layer}">{drawn}</g>' if ids and layer in _SHARED else drawn
    if ids and layer in _BY_CIRCUIT:
        drawn = f'<g id="{escape(part_id(ids, layer, circuit, cause))}">{drawn}</g>'
    return f"<g{_data({'circuit': circuit} | ({'cause': cause} if cause else {}))}>{drawn}</g>"


def _drawn(stroke: Stroke) -> str:
    path = f'<path {" ".join(_style(stroke))} d="{_outline(stroke)}"/>'
    own = {key: value for key, value in stroke.data.items() if key not in ("circuit", "cause")}
    return f"<g{_data(own)}>{path}</g>" if own else path


def _style(stroke: Stroke) -> list[str]:
    attributes = [f'fill="{stroke.fill}"']
    if stroke.edge != "none":
        attributes.append(f'stroke="{stroke.edge}"')
        if stroke.width != 1.0:
            attributes.append(f'stroke-width="{_short(stroke.width)}"')
    if stroke.dash:
        attributes.append(f'stroke-dasharray="{",".join(map(_short, stroke.dash))}"')
    if stroke.opacity not in (None, 1.0):
        attributes.append(f'opacity="{_short(stroke.opacity)}"')
    return attributes


def _outline(stroke: Stroke) -> str:
    """Write a path as steps from point to point: about half as long as places would be."""
    written: list[str] = []
    at = [0, 0]
    for piece in stroke.pieces:
        points = np.rint(piece * _PER_UNIT).astype(np.int64).tolist()
        if all(point == points[0] for point in points):
            # A line too short to have a length is kept as a dot.
            points = [points[0], [points[0][0] + 1, points[0][1]]]
        steps = [(x - left_x, y - left_y) for (left_x, left_y), (x, y) in pairwise(points)]
        steps = [step for step in steps if step != (0, 0)]
        first = [points[0][0] - at[0], points[0][1] - at[1]]
        written += ["m" if written else "M", _numbers(first), "l", _numbers(chain.from_iterable(steps))]
        at = points[0] if stroke.closed else points[-1]
        if stroke.closed:
            written.append("z")
    return "".join(written)


def _numbers(tenths: Iterable[int]) -> str:
    """Write whole tenths as decimals with as few characters as SVG allows: ``"1.2-.5 3"``."""
    return "".join(map(_number, tenths)).lstrip()


@lru_cache(maxsize=1 << 14)
def _number(tenths: int) -> str:
    whole, rest = divmod(abs(tenths), _PER_UNIT)
    digits = f"{whole or '' if rest else whole}{f'.{rest}' if rest else ''}"
    return f"-{digits}" if tenths < 0 else f" {digits}"


def _letters(canvas: Canvas) -> list[str]:
    return [
        f'<g data-layer="{escape(layer)}">{"".join(_letter(letter, canvas) for letter in members)}</g>'
        for layer, members in groupby(canvas.letters, key=lambda letter: letter.layer)
    ]


def _letter(letter: Letter, canvas: Canvas) -> str:
    if canvas.stretch:
        x, y = f"{100 * letter.x / canvas.width:.2f}%", f"{100 * letter.y / canvas.height:.2f}%"
    else:
        x, y = _short(letter.x), _short(letter.y)
    anchor = "" if letter.anchor == "middle" else f' text-anchor="{letter.anchor}"'
    start = f'<text class="l-{letter.kind}"{anchor}{_data(letter.data)} x="{x}" y="{y}">'
    return f"{start}{escape(letter.text)}</text>"


def _data(pairs: dict[str, Any]) -> str:
    return "".join(f' data-{escape(key)}="{escape(str(value))}"' for key, value in pairs.items())


def _short(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".") if number else "0"
