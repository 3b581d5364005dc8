"""Pictures of every kind with few containers and with many, of invented numbers: nothing is computed."""

from itertools import cycle, islice

import numpy as np

from thermal_model.report.pictures.record import (
    Curves,
    Dot,
    Grid,
    LimitLine,
    Line,
    Map,
    Mark,
    Picture,
    Row,
    RowsPanel,
    Track,
)

NAMES = (
    "Slim neck, double seal",
    "Handled tumbler with a straw and a lid that screws on",
    "Wide mouth, plain disc",
    "Foam jug of the mess, two litres, with a tap",
    "Mug",
)
GIVEN = "350 mL, tea, start 90 °C, room 20 °C, walls at room temperature, poured every 30 min, stays above 60 °C"
MADE_BY = "200 samples, seed 1; nine in ten lie within the bars; holdtime 0.1.0"


def names(count: int) -> list[str]:
    """Names of several lengths, no two alike."""
    return [f"{name} {number}" for number, name in enumerate(islice(cycle(NAMES), count), start=1)]


def ranking(count: int) -> Picture:
    rows = []
    for place, name in enumerate(names(count)):
        hours = 12.0 * 0.93**place
        is_last = place == count - 1
        hot = Mark(
            at=hours,
            low=0.8 * hours,
            high=1.3 * hours,
            tone="hot",
            text="11 h 20 min (10 h 10 min to 13 h)",
            short="11 h 20 min",
        )
        cold = Mark(at=20.0, low=15.0, tone="cold", text="at least 15 h")
        never = Mark(tone="cold", text="never reached")
        rows.append(Row(name=name, tracks=((hot,), (never if is_last else cold,)), is_parted=place % 3 == 2))
    tracks = (
        Track(label="time above 60 °C [h]", title="Hot"),
        Track(label="time below 10 °C [h]", title="Cold, from 4 °C"),
    )
    return picture(RowsPanel(tracks=tracks, rows=tuple(rows)), title="How long each holds")


def shares(count: int) -> Picture:
    note = "A: 44 mm, straight for 30 mm, 0.5 mm of steel; B: 62 mm, straight for 12 mm, 0.6 mm of steel"
    rows = [
        Row(
            name=name,
            note=note,
            tracks=(
                (Mark(at=at, base=0.0, low=at - 0.3, high=at + 0.3, tone="more" if at > 0 else "less", text=text),),
            ),
        )
        for name, at, text in zip(names(count), cycle((2.1, -1.3, 0.02)), cycle(("+2 h 6 min", "−1 h 18 min", "0")))
    ]
    track = Track(label="hours that A gains (right) or loses (left) against B [h]", line=0.0)
    return picture(RowsPanel(tracks=(track,), rows=tuple(rows)), title="Slim neck (A) against foam jug of the mess (B)")


def cooling(count: int) -> Picture:
    """One container, as many limits."""
    x = np.linspace(0.0, 12.0, 200)
    y = 20.0 + 70.0 * np.exp(-x / 9.0)
    contents = Line(
        x=tuple(x), y=tuple(y), low=tuple(y - 4.0), high=tuple(y + 3.0), tone="hot", text="tea, nine in ten in the band"
    )
    room = Line(x=(0.0, 12.0), y=(20.0, 20.0), tone="muted", is_dashed=True, text="room")
    limits = [
        LimitLine(
            y=60.0 - number, at=4.0, low=3.0, high=6.0, text=f"{60 - number} °C: 7 h 20 min (5 h 20 min to 9 h 30 min)"
        )
        for number in range(count)
    ]
    curves = Curves(
        x_label="time since filling [h]",
        y_label="temperature [°C]",
        lines=(contents, room),
        levels=tuple(limits),
        starts_at_zero=True,
    )
    paths = [
        Row(name=name, tracks=((Mark(at=at, base=0.0, tone=tone, text=f"{at:.0f} %"),),))
        for name, at, tone in (
            ("steel of neck and lip", 41.0, "steel_bridge"),
            ("lid", 31.0, "lid"),
            ("side, across the gap", 20.0, "gap_side"),
            ("base", 6.0, "base"),
            ("holes and gaps in the lid", 2.0, "vent"),
        )
    ]
    title = "Heat paths: 0.0689 W/K in all at 75 °C"
    rows = RowsPanel(title=title, tracks=(Track(label="share of the heat [%]"),), rows=tuple(paths))
    return picture(curves, rows, title="Slim neck, double seal", given=GIVEN)


def readings(count: int) -> Picture:
    x = np.linspace(0.0, 9.0, 12)
    cells = []
    for number, name in enumerate(names(count)):
        y = 20.0 + 70.0 * np.exp(-x / (2.0 + number % 7))
        hot = Line(x=tuple(x), y=tuple(y), tone="hot", has_dots=True, has_line=False)
        band = Line(x=tuple(x), y=tuple(y), low=tuple(y - 2.0), high=tuple(y + 2.0), tone="hot")
        cold = Line(x=(0.0, 5.0), y=(4.0, 12.0), tone="cold", has_dots=True)
        levels = (
            LimitLine(y=60.0, at=3.0, low=2.5, high=3.6),
            LimitLine(y=60.0, low=4.0),
            LimitLine(y=60.0, low=2.0, high=4.0),
        )
        note = "60 °C: 3 h, at least 4 h, between 2 h and 4 h"
        cells.append(Curves(title=name, note=note, lines=(hot, band, cold), levels=levels))
    grid = Grid(x_label="time since pouring [h]", y_label="temperature [°C]", cells=tuple(cells))
    return picture(grid, title="Galley bench: what the displays showed")


def moved(count: int) -> Picture:
    """Before and after: two bars in a row, nothing written."""
    rows = [
        Row(
            name=f"{name}: how well the seal of the lid closes",
            tracks=((Mark(low=-1.6, high=1.6, tone="muted"), Mark(at=0.4, low=0.1, high=0.7, tone="more")),),
        )
        for name in names(count)
    ]
    track = Track(label="of what was assumed before: less (left), more (right) [-]", line=0.0)
    return picture(RowsPanel(title="Before (grey) and after", tracks=(track,), rows=tuple(rows)), title="Galley bench")


def sweep_lines(count: int) -> Picture:
    x = tuple(np.linspace(30.0, 60.0, 7))
    lines = [
        Line(x=x, y=tuple(12.0 - 0.1 * v + 0.2 * n for v in x), tone=tone, has_dots=True, is_dashed=n >= 4, text=name)
        for n, (name, tone) in enumerate(zip(names(min(count, 8)), cycle(("first", "second", "third", "fourth"))))
    ]
    panels = [
        Curves(
            title=f"time above {limit} °C",
            x_label="body.neck.mouth_diameter [mm]",
            y_label="hold time [h]",
            lines=tuple(lines),
            dots=(Dot(x=44.0, y=8.0),),
        )
        for limit in (60, 50)
    ]
    return picture(*panels, title="Slim neck, double seal")


def sweep_axes(count: int) -> Picture:
    rng = np.random.default_rng(1)
    panels = []
    for name in ("mouth_diameter [mm]", "lid.plug.depth [mm]", "body.gap.width [mm]", "fill [mL]", "kind", "air")[
        :count
    ]:
        x = tuple(rng.uniform(30.0, 60.0, 50))
        points = Line(x=x, y=tuple(900.0 - 4.0 * v for v in x), tone="first", has_line=False, has_dots=True)
        panels.append(Curves(x_label=name, y_label="hold time [min]", lines=(points,)))
    kinds = Line(x=(0.0, 1.0, 2.0), y=(3.0, None, 2.0), has_line=False, has_dots=True)
    panels[-1] = Curves(x_label="kind", y_label="hold time [h]", lines=(kinds,), ticks=("polypropylene", "air", "foam"))
    return picture(*panels, title="Slim neck, double seal")


def contours(count: int) -> Picture:
    x, y = np.linspace(30.0, 60.0, 9), np.linspace(3.0, 40.0, 8)
    values = [[None if a > 55.0 and b < 8.0 else 20.0 - 0.2 * a + 0.1 * b for a in x] for b in y]
    one = Map(
        title="time above 60 °C",
        x_label="mouth diameter [mm]",
        y_label="lid.layers.1.depth [mm]",
        value_label="[h]",
        x=tuple(x),
        y=tuple(y),
        values=tuple(tuple(row) for row in values),
        note="grey: not possible or not reached",
    )
    return picture(*[one] * min(count, 4), title="Slim neck, double seal")


def front(count: int) -> Picture:
    rng = np.random.default_rng(2)
    mass = tuple(rng.uniform(200.0, 400.0, 20 * count))
    others = Line(x=mass, y=tuple(0.02 * m for m in mass), tone="muted", has_line=False, has_dots=True)
    best = Line(x=(200.0, 300.0, 400.0), y=(8.0, 10.0, 10.5), tone="more", has_dots=True)
    panel = Curves(
        x_label="mass, empty [g]",
        y_label="hold time [h]",
        lines=(others, best),
        key=(("more", "the best"), ("muted", "beaten by another"), ("muted", "misses a constraint")),
    )
    return picture(panel, title="Slim neck, double seal: hold time against mass")


def empty(count: int) -> Picture:
    """Nothing to be seen: no rows, no values."""
    return picture(
        RowsPanel(tracks=(Track(label="hours [h]"),), rows=()),
        Curves(x_label="time [h]", y_label="temperature [°C]", lines=(Line(x=(), y=(), text="nothing"),)),
        title="$5 & <more> of nothing",
        given="",
    )


def picture(*panels: object, title: str, given: str = GIVEN) -> Picture:
    return Picture(subject="invented", title=title, given=given, made_by=MADE_BY, panels=panels, shares=())


SAMPLES = (ranking, shares, cooling, readings, moved, sweep_lines, sweep_axes, contours, front, empty)
COUNTS = (3, 40)
