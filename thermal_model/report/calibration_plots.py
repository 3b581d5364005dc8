"""The picture of a calibration: readings over what the fitted model shows, and what the readings changed."""

import numpy as np

from geometries.constants import ZERO_CELSIUS
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.coordinates import Coordinate, Owner
from thermal_model.bench.calibration.fit import NORMAL_90
from thermal_model.bench.calibration.posterior import Finding, shown_of_run
from thermal_model.report.bench_plots import bench_name, tone_of
from thermal_model.report.calibration_text import listed_findings
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.numbers import known, number
from thermal_model.report.pictures.record import Curves, Grid, Line, Mark, Picture, RowsPanel, Track, row_of

MOST_UNKNOWNS = 14
"""Unknowns that are drawn: those the readings moved or narrowed most."""


def calibration_picture(found: Calibration) -> Picture:
    """Return the picture: a small panel a container, and the unknowns before and after."""
    bench = found.fit.problem.bench
    cells = tuple(_cell(name, found) for name in bench.containers)
    return Picture(
        subject=f"{bench.name}, calibrated",
        title=f"{bench_name(bench)}: what the readings changed",
        given="Dots: displays. Bands: where the corrected model expects nine displays in ten. "
        "Bars: what a ruler can't see, as assumed before (grey) and as the readings leave it",
        made_by=made_by(f"{len(bench.runs)} runs of {len(bench.containers)} containers"),
        panels=(
            Grid(title="Readings", x_label="time since pouring [h]", y_label="display [°C]", cells=cells),
            _moves(found),
        ),
        shares=(1.0, 1.0),
    )


def _cell(container: str, found: Calibration) -> Curves:
    bench = found.fit.problem.bench
    places = [place for place, run in enumerate(bench.runs) if run.container == container]
    lines = tuple(line for place in places for line in _of_run(place, found))
    return Curves(title=bench.containers[container].called, lines=lines)


def _of_run(place: int, found: Calibration) -> tuple[Line, Line]:
    """Return the band of a run and its readings."""
    evidence, run = found.fit.evidence, found.fit.problem.bench.runs[place]
    shown = shown_of_run(found.fit, place)
    order = np.argsort(evidence.time[shown.rows], kind="stable")
    rows = shown.rows[order]
    x, middle = known(evidence.time[rows] / 3600.0), shown.predicted[order] - ZERO_CELSIUS
    wide = NORMAL_90 * np.hypot(shown.deviation[order], found.fit.linearised.scale[rows])
    band = Line(x=x, y=known(middle), low=known(middle - wide), high=known(middle + wide), tone=tone_of(run))
    readings = known(evidence.shown[rows] - ZERO_CELSIUS)
    return band, Line(x=x, y=readings, tone=tone_of(run), has_line=False, has_dots=True)


def _moves(found: Calibration) -> RowsPanel:
    """Return each unknown before and after, nine in ten both, in the width of what was assumed."""
    before, rows = Mark(low=-NORMAL_90, high=NORMAL_90, tone="muted"), []
    for finding in _most_informed(found):
        low, high = (number(finding.moved + side * NORMAL_90 * finding.spread) for side in (-1.0, 1.0))
        after = Mark(at=number(finding.moved), low=low, high=high, tone="more")
        rows.append(row_of(finding.coordinate.label, before, after, note=_owner(finding.coordinate, found)))
    label = "less (left), more (right) than assumed [-]"
    return RowsPanel(title="Before and after", tracks=(Track(label=label, line=0.0),), rows=tuple(rows))


def _most_informed(found: Calibration) -> list[Finding]:
    listed = sorted(listed_findings(found), key=lambda finding: finding.spread - abs(finding.moved))[:MOST_UNKNOWNS]
    order = {id(finding): place for place, finding in enumerate(listed_findings(found))}
    return sorted(listed, key=lambda finding: (finding.coordinate.owner, order.get(id(finding), 0)))


def _owner(coordinate: Coordinate, found: Calibration) -> str:
    if coordinate.kind is Owner.COMMON:
        return "all containers"
    container = found.fit.problem.bench.containers.get(coordinate.owner)
    return coordinate.owner.replace("_", " ") if container is None else container.called
