"""Containers cut through their axis as small SVG, all at one scale."""

from collections.abc import Mapping
from html import escape

from geometries.container import Container
from geometries.numeric import Array
from geometries.section import AIR, CONTENTS, VACUUM, CrossSection, cross_section
from thermal_model.report.drawing import material_kind

MARGIN = 0.012
"""About what is drawn [m], for the width and height written beside it."""


def drawings(containers: Mapping[str, Container], fills: Mapping[str, float]) -> dict[str, str]:
    """Return an SVG for each container, all at one scale, with its fill. [m3]"""
    return {
        name: _svg(cross_section(container, fills.get(name)), container.called)
        for name, container in containers.items()
    }


def _svg(cut: CrossSection, called: str) -> str:
    wide, high = cut.right - cut.left + 2 * MARGIN, cut.top - cut.table_height + 2 * MARGIN
    shapes = "".join(
        f'<path class="{_kind(region.filling)}" d="{_path(outline)}"><title>{escape(region.part)}</title></path>'
        for region in cut.regions
        for outline in region.outlines
    )
    x, y = 1e3 * (cut.left - MARGIN), -1e3 * (cut.table_height + high - MARGIN)
    width, height = 1e3 * (cut.right - cut.left), 1e3 * (cut.top - cut.table_height)
    table = -1e3 * cut.table_height
    says = f"{called}, cut through its axis: {width:.0f} mm wide, {height:.0f} mm tall"
    middle = 0.5e3 * (cut.left + cut.right)
    sizes = (
        f'<text x="{middle:.1f}" y="{table + 10.5:.1f}" text-anchor="middle">{width:.0f} mm</text>'
        f'<text transform="translate({1e3 * cut.right + 10:.1f} {table - 0.5 * height:.1f}) rotate(-90)" '
        f'text-anchor="middle">{height:.0f} mm</text>'
    )
    return (
        f'<svg class="cut" role="img" aria-label="{escape(says)}" viewBox="{x:.1f} {y:.1f} {1e3 * wide:.1f} '
        f'{1e3 * high:.1f}" style="--mm:{1e3 * wide:.1f}">{shapes}'
        f'<path class="table" d="M{1e3 * cut.left:.1f} {table:.1f}H{1e3 * cut.right:.1f}"/>{sizes}</svg>'
    )


def _kind(filling: str) -> str:
    if filling == CONTENTS:
        return "liquid"
    return filling if filling in (AIR, VACUUM) else material_kind(filling)


def _path(outline: Array) -> str:
    """Return an outline in tenths of a millimetre, points that repeat left out."""
    points: list[tuple[float, float]] = []
    for x, y in (1e3 * outline).round(1).tolist():
        if not points or points[-1] != (x, -y):
            points.append((x, -y))
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points) + "Z"
