"""The track as a small SVG: path, start and end, north arrow, scale. Written by hand, every text escaped."""

from __future__ import annotations

from xml.sax.saxutils import escape

from analyser.inspection.plan_points import PlanPoints, round_length

_SIZE, _MARGIN = 640.0, 40.0


def plan_svg(points: PlanPoints, title: str) -> str:
    """Draw a track.

    Parameters
    ----------
    points : PlanPoints
    title : str
        Untrusted text; escaped here.

    Returns
    -------
    str
        A whole SVG document.
    """
    room = _SIZE - 2 * _MARGIN
    scale = room / max(points.width_nm, points.height_nm, 1e-6)
    width, height = points.width_nm * scale + 2 * _MARGIN, points.height_nm * scale + 2 * _MARGIN + 30.0
    x = (points.east_nm - points.east_nm.min()) * scale + _MARGIN
    y = (points.north_nm.max() - points.north_nm) * scale + _MARGIN
    bar_nm = round_length(max(room / scale / 4.0, 1e-6))
    bar = bar_nm * scale
    path = " ".join(
        f"{'M' if place == 0 or points.after_hole[place] else 'L'}{x[place]:.1f},{y[place]:.1f}"
        for place in range(x.size)
    )
    foot = height - 18.0
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {max(width, bar + 120.0):.0f} {height:.0f}" '
            'role="img" font-family="sans-serif" font-size="13">',
            f"<title>{escape(title)}</title>",
            '<rect width="100%" height="100%" fill="#ffffff"/>',
            f'<path d="{path}" fill="none" stroke="#1f3a5f" stroke-width="1.6" stroke-linejoin="round"/>',
            f'<circle cx="{x[0]:.1f}" cy="{y[0]:.1f}" r="4" fill="#1b7f4b"><title>start</title></circle>',
            f'<circle cx="{x[-1]:.1f}" cy="{y[-1]:.1f}" r="4" fill="#b3261e"><title>end</title></circle>',
            '<path d="M20,34 L20,12 M15,19 L20,10 L25,19" fill="none" stroke="#333333" stroke-width="1.6"/>',
            '<text x="30" y="24" fill="#333333">N</text>',
            f'<path d="M{_MARGIN:.0f},{foot - 5:.1f} v5 h{bar:.1f} v-5" fill="none" stroke="#333333"/>',
            f'<text x="{_MARGIN + bar + 8:.1f}" y="{foot:.1f}" fill="#333333">{bar_nm:g} NM</text>',
            "</svg>",
            "",
        ]
    )
