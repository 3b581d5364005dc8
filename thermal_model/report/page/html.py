"""The page itself: one HTML file with its text, its tables, its data and its scripts, and nothing from outside."""

import json
import re
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.compare import CLEAR, Ranking, Standing, by_capacity, moves
from thermal_model.judge.what_if.lid_off import SECONDS_OFF
from thermal_model.judge.what_if.model import PERIODS, Misses, SideModel
from thermal_model.report.compare_text import NEVER, basis_text, fill_words, measured_words, model_interval
from thermal_model.report.page.contents import PageContents
from thermal_model.report.page.document import page_document
from thermal_model.report.results import path_label
from thermal_model.report.safety import cautions
from thermal_model.report.summary import conditions_text, limit_text
from thermal_model.version import version
from thermal_model.words.numbers import Scale, duration_text, interval_texts, percent, quantity_text

HERE = Path(__file__).parent
LIBRARIES = HERE.parent / "assets"

HEADINGS = {
    "hot": "Hot, under common conditions",
    "full": "Hot, each full to its own lid",
    "cold": "Cold",
}

CELSIUS = Scale.CELSIUS

NO_SCRIPTS = (
    "<noscript><p class='note'>Charts and panel need scripts, which are off here; the tables hold the same numbers.</p>"
    "</noscript>"
)


def page_html(contents: PageContents) -> str:
    """Return a page as one HTML text.

    Parameters
    ----------
    contents : PageContents

    Returns
    -------
    str
        Needs nothing from outside; every text of a user's is escaped.
    """
    files = (LIBRARIES / "d3.min.js", LIBRARIES / "plot.min.js", HERE / "reduced.js", HERE / "page.js")
    scripts = [script_text(file.read_text(encoding="utf-8")) for file in files]
    style = (HERE / "page.css").read_text(encoding="utf-8")
    name, asked = contents.known.bench.name.replace("_", " "), contents.asked
    asks = "which container holds longest" if _has_several(contents) else "how long its container holds"
    title = f"{name[:1].upper()}{name[1:]}: {asks}"
    body = "".join(
        (
            _header(contents, title),
            "<main>",
            _rankings(contents),
            _panel(contents),
            _readings(contents),
            _why(contents) if _has_several(contents) else "",
            _drawings(),
            _method(contents),
            _care(contents),
            "</main>",
            f"<footer><p>Made by holdtime {escape(version())}. {asked.draws} samples of what is not known, "
            f"seed {asked.seed}.</p></footer>",
        )
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><link rel="icon" href="data:,">'
        f"<title>{escape(title)}</title><style>{style}</style></head><body>{unbroken(body)}"
        f'<script type="application/json" id="data">{unbroken(script_json(page_document(contents)))}</script>'
        + "".join(f"<script>{script}</script>" for script in scripts)
        + "</body></html>\n"
    )


def _has_several(contents: PageContents) -> bool:
    """Tell whether there is something to compare."""
    return len(contents.rankings["hot"].standings) > 1


def script_json(document: Any) -> str:
    r"""Return a JSON text that ends no script element, whatever names hold.

    Examples
    --------
    >>> script_json({"name": "</script>"})
    '{"name":"\\u003c/script>"}'
    """
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:°C|K|W/K|d|h|min|s|mL|L|mm|%)(?!\w))")


def unbroken(text: str) -> str:
    r"""Return a text in which no line ends between a number and its unit.

    Examples
    --------
    >>> unbroken("2 d 4 h at 20 °C, 3 seals")
    '2\xa0d 4\xa0h at 20\xa0°C, 3 seals'
    """
    return _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", text)


def script_text(script: str) -> str:
    """Return a library's text, in which no string may end the script element that holds it."""
    return script.replace("</script", "<\\/script").replace("<!--", "<\\!--")


def _section(name: str, title: str, inside: str) -> str:
    """Return a part of the page to which its header leads."""
    return f'<section id="{name}" aria-labelledby="{name}-title"><h2 id="{name}-title">{title}</h2>{inside}</section>'


def _as_table(inside: str) -> str:
    """Return the numbers of a chart, closed until they are asked for."""
    return f"<details><summary>The same as a table</summary>{inside}</details>"


# --- what holds longest ---------------------------------------------------------------------------------------


def _header(contents: PageContents, title: str) -> str:
    links = (("holds", "Ranking"), ("panel", "What if"), ("readings", "Readings"))
    why = (("why", "Why"),) if _has_several(contents) else ()
    more = (*why, ("drawings", "Drawings"), ("method", "Method"), ("care", "Take care"))
    items = "".join(f'<li><a href="#{place}">{text}</a></li>' for place, text in (*links, *more))
    return (
        f"<header><h1>{escape(title)}</h1>{conclusion(contents)}"
        f'<nav aria-label="Parts of this page"><ul>{items}</ul></nav></header>'
    )


def conclusion(contents: PageContents) -> str:
    """Return what the page says in two or three sentences, as HTML."""
    names = [name for name in HEADINGS if name in contents.rankings]
    return "".join(f"<p class='said'>{_verdict(contents.rankings[name], name)}</p>" for name in names)


def _verdict(ranking: Ranking, name: str) -> str:
    if not ranking.standings:
        return ""
    best, level = ranking.standings[0], [s for s in ranking.standings[1:] if s.tier == 1]
    least, middle, most = _held(best)
    side = "above" if name != "cold" else "below"
    lead = {"hot": "", "full": "Full to the lid: ", "cold": "Cold: "}[name]
    colour = "cold" if name == "cold" else "hot"
    holds = "holds longest," if len(ranking.standings) > 1 else "stays"
    text = (
        f"{lead}<b class='{colour}'>{escape(best.entry.container.called)}</b> {holds} {side} "
        f"{CELSIUS.text(ranking.limit)} for <b>{middle}</b>"
    )
    if np.isfinite(best.interval[0]):
        text += f" (probably {least} to {most})"
    if level:
        text += f". Can't honestly be told apart from it: {escape(some_names(level))}"
    return text + "."


def _held(standing: Standing) -> tuple[str, str, str]:
    """Return the ends and the middle of a hold time in words."""
    low, high = standing.interval
    return interval_texts(low, standing.centre, high, NEVER)


MOST_NAMED = 4
"""Containers that are told by name where many are alike."""


def some_names(standings: Sequence[Standing]) -> str:
    """Return what containers are called, and how many more there are."""
    names = [standing.entry.container.called for standing in standings]
    more = len(names) - MOST_NAMED
    return "; ".join([*names[:MOST_NAMED], *([f"and {more} more"] if more > 0 else [])])


def _rankings(contents: PageContents) -> str:
    parts = [
        "<p>A dot is the middle of what is probable, its line the range that holds nine times in ten. Containers in "
        "one group can't honestly be told apart from the first of it; the head of a group beats what stands below in "
        f"at least {100 * CLEAR:g} of 100 samples.</p>"
    ]
    for name, ranking in contents.rankings.items():
        given = conditions_text(ranking.scenario, fill_words(ranking.scenario), frozenset(), CELSIUS)
        limit = limit_text(ranking.limit, ranking.scenario, CELSIUS)
        parts.append(
            f"<h3>{HEADINGS[name]}</h3><p class='given'>{escape(given)}; time {limit}.</p>"
            f'<div class="chart" data-ranking="{name}"></div>'
            f"{_as_table(_ranking_table(ranking, HEADINGS[name]))}"
        )
        if ranking.left_out:
            left = "; ".join(f"{escape(name)}, {escape(reason)}" for name, reason in ranking.left_out.items())
            parts.append(f"<p class='note'>Left out: {left}.</p>")
    if _has_several(contents):
        parts.append(_groups(contents))
    return _section("holds", "Which holds longest", "".join(parts))


def _ranking_table(ranking: Ranking, caption: str) -> str:
    rows = []
    for place, standing in enumerate(ranking.standings, start=1):
        least, middle, most = _held(standing)
        between = f"{least} to {most}" if np.isfinite(standing.interval[0]) else ""
        beats = "" if np.isnan(standing.beats_next) else percent(standing.beats_next)
        cells = (middle, between, f"{standing.tier}", beats, quantity_text(standing.fill, "mL", 4))
        rows.append((f"{place}. {standing.entry.container.called}", *cells))
    return table(caption, ("container", "holds for", "nine in ten", "group", "beats the next", "fill"), rows)


def table(caption: str, head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """Return an HTML table whose first column names the rows; every text is escaped."""
    columns = "".join(f'<th scope="col" role="columnheader">{escape(cell)}</th>' for cell in head)
    top = f'<thead role="rowgroup"><tr role="row">{columns}</tr></thead>' if any(head) else ""
    lines = "".join(
        f'<tr role="row"><th scope="row" role="rowheader">{escape(first)}</th>{_cells(head[1:], rest)}</tr>'
        for first, *rest in rows
    )
    # Roles in words: a narrow screen shows each row as a list, which would end the table for a screen reader.
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{escape(caption)}"><table role="table">'
        f"<caption>{escape(caption)}</caption>{top}"
        f'<tbody role="rowgroup">{lines}</tbody></table></div>'
    )


MOST_ROWS = 12
"""Of a table that is always open; longer ones open when they are asked for, and in print."""


def _folded(caption: str, head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """Return a table, behind its caption where it is long."""
    if len(rows) <= MOST_ROWS:
        return table(caption, head, rows)
    return f"<details><summary>{escape(caption)}: {len(rows)} rows</summary>{table(caption, head, rows)}</details>"


def _cells(head: Sequence[str], texts: Sequence[str]) -> str:
    return "".join(
        f'<td role="cell" data-head="{escape(column)}"{_WHOLE if len(text) <= WHOLE_TO else ""}>{escape(text)}</td>'
        for column, text in zip(head, texts, strict=True)
    )


WHOLE_TO = 38
"""Letters of a cell that is not broken into lines, such as a time and its range."""

_WHOLE = ' class="whole"'


def _groups(contents: PageContents) -> str:
    hot = contents.rankings["hot"]
    rows = []
    for (low, high), members in by_capacity(hot).items():
        band = f"over {low * 1e6:.0f} mL" if np.isinf(high) else f"{low * 1e6:.0f} to {high * 1e6:.0f} mL"
        best = members[0]
        others = some_names([s for s in members[1:] if s.tier == best.tier])
        rows.append((band, best.entry.container.called, _held(best)[1], others))
    text = "<h3>By capacity</h3>" + table("The best of each size", ("holds", "best", "holds for", "as good"), rows)
    if "cold" in contents.rankings:
        text += f"<h3>Hot and cold side by side</h3>{_moves(hot, contents.rankings['cold'])}"
    return text


def _moves(hot: Ranking, cold: Ranking) -> str:
    found = moves(hot, cold)
    if not found:
        return "<p>Hot and cold give the same order.</p>"
    containers = {s.entry.name: s.entry.container for s in hot.standings}
    rows = [
        (
            containers[move.name].called,
            str(move.before),
            str(move.after),
            f"{path_label(move.path, containers[move.name])}: {percent(move.share_before)} of its loss hot, "
            f"{percent(move.share_after)} cold",
        )
        for move in found
    ]
    return (
        "<p>Above hot contents vapour carries most of what goes to lid and neck; above cold contents the air lies "
        "still and there is none. So what lid and plug decide hot, the wall decides cold.</p>"
        + _folded("What changes places", ("container", "place hot", "place cold", "what changes most"), rows)
    )


# --- what if --------------------------------------------------------------------------------------------------


def _panel(contents: PageContents) -> str:
    words = ("every half hour", "every hour", "every 2 hours", "every 4 hours")
    options = [f'<option value="{period:g}">{word}</option>' for period, word in zip(PERIODS, words, strict=True)]
    periods = "".join(reversed(options))
    inside = f"""
<p>Change the conditions; the ranking answers at once. The address of the page follows, so that a link leads to just
these conditions.</p>
<form id="asked" autocomplete="off"><fieldset class="choice"><legend>Contents</legend>
<label><input type="radio" name="side" value="hot" checked> hot</label>
<label><input type="radio" name="side" value="cold"> cold</label></fieldset>
<p class="field"><label for="room">Room</label><input type="range" id="room" step="0.5"><output for="room"></output></p>
<p class="field"><label for="start">Poured in at</label><input type="range" id="start" step="0.5">
<output for="start"></output></p>
<p class="field"><label for="limit">Until</label><input type="range" id="limit" step="0.5">
<output for="limit"></output></p>
<p class="field"><label for="fill">Fill</label><select id="fill"><option value="full">each full</option>
<option value="75%">each three quarters full</option><option value="half">each half full</option>
<option value="volume">the same volume</option></select></p>
<p class="field" id="volume-field"><label for="volume">Volume</label>
<input type="range" id="volume" min="100" max="3000" step="10"><output for="volume"></output></p>
<p class="field"><label for="lid">Lid off {SECONDS_OFF:.0f}&nbsp;s</label><select id="lid">
<option value="never">never</option>{periods}</select></p>
<p class="field"><button type="button" id="reset">Back to the conditions of the ranking</button></p></form>{NO_SCRIPTS}
<p id="answer" class="said" role="status" aria-live="polite"></p>
<div class="chart" id="panel-chart"></div><div id="panel-notes"></div>
{_as_table('<div id="panel-table"></div>')}
{_accuracy(contents)}"""
    return _section("panel", "What if", inside)


def _accuracy(contents: PageContents) -> str:
    """Return how far the panel is off the model, measured when the page was made."""
    lines = []
    for model in (contents.what_if.hot, contents.what_if.cold):
        for misses, lid in ((model.closed, "lid on"), (model.opened, "lid off now and then")):
            if len(misses.best):
                lines.append((f"{model.side.name}, {lid}", *accuracy_cells(misses)))
    head = ("conditions", "tried", "hold time off by", "at most", "ends of ranges off by", "at most")
    return (
        "<h3>How exact the panel is</h3><p>The panel reads from tables that the full model made. When this page was "
        "made both were asked in random conditions that the panel allows, spread over the containers:</p>"
        + table("The panel beside the full model", head, lines)
        + _bounds(contents.what_if.hot, contents.what_if.cold)
    )


def accuracy_cells(misses: Misses) -> tuple[str, str, str, str, str]:
    """Return how many conditions were tried, and how far hold times and ends of ranges are off."""
    known = np.isfinite(misses.best) & np.isfinite(misses.best_engine)
    unknown = int((~known).sum())
    tried = f"{len(known)}" + (f" ({unknown} not answered)" if unknown else "")
    is_end = np.isfinite(misses.ends) & np.isfinite(misses.ends_engine)
    best = _middle_and_worst(misses.best[known], misses.best_engine[known], 0.01)
    return tried, *best, *_middle_and_worst(misses.ends[is_end], misses.ends_engine[is_end], 0.03)


def _middle_and_worst(found: Array, engine: Array, share: float) -> tuple[str, str]:
    """Return how far times are off in the middle, and at most where a share of them and a minute weigh alike. [s]"""
    if not len(found):
        return "", ""
    seconds = np.abs(found - engine)
    relative = seconds / engine
    worst = int(np.argmax(np.minimum(relative / share, seconds / 60.0)))
    at_most = f"{100 * relative[worst]:.1f} % ({duration_text(seconds[worst], 1.0)})"
    return f"{100 * np.median(relative):.2f} %", at_most


def _bounds(*models: SideModel) -> str:
    texts = []
    for model in models:
        side = model.side
        texts.append(
            f"{side.name}: poured in at {_span(side.start)}, room {_span(side.room)}, limit at least "
            f"{side.least_change:g} K from the start and {side.nearest:g} K from the room"
        )
    return (
        f"<p class='note'>It answers for {'; '.join(texts)}; fills from {percent(models[0].side.share[0])} of full to "
        "full. Outside of that it says so.</p>"
    )


def _span(span: tuple[float, float]) -> str:
    return f"{CELSIUS.number(span[0]):.0f} to {CELSIUS.text(span[1], 3)}"


# --- readings, why, drawings ----------------------------------------------------------------------------------


def _select(name: str, label: str, contents: PageContents) -> str:
    options = "".join(
        f'<option value="{escape(s.entry.name)}">{escape(s.entry.container.called)}</option>'
        for s in contents.rankings["hot"].standings
    )
    return f'<p class="field"><label for="{name}">{label}</label><select id="{name}">{options}</select></p>'


def _readings(contents: PageContents) -> str:
    measured = [
        (
            one.run.container_at_run.called,
            one.run.name,
            measured_words(one.measured),
            duration_text(float(one.times[0])) if np.isfinite(one.times[0]) else NEVER,
            _between(model_interval(one)),
        )
        for one in contents.measured
    ]
    beside = ""
    if measured:
        caption = f"Time to {CELSIUS.text(contents.asked.limit)}, each run at its own fill, start and room"
        head = ("container", "run", "measured", "model, best guess", "model, nine in ten")
        beside = f"<h3>Measured beside the model</h3>{_folded(caption, head, measured)}"
    about = (
        "<p>Dots are readings; the line is the model's best guess in that run's own conditions, and the band holds "
        "nine in ten.</p>"
    )
    charts = (
        '<div id="run-charts" class="charts"></div><h3 id="common-title">Under common conditions</h3>'
        '<div class="chart" id="common-chart"></div>'
    )
    table_of = _as_table('<div id="curve-table"></div>')
    inside = f"{about}{_select('curves-of', 'Container', contents)}{charts}{table_of}{beside}"
    return _section("readings", "Cooling curves and readings", inside)


def _between(interval: tuple[float, float, float]) -> str:
    low, middle, high = interval
    if np.isnan(low):
        return ""
    least, _, most = interval_texts(low, middle, high, NEVER)
    return f"{least} to {most}"


def _why(contents: PageContents) -> str:
    inside = (
        f"<p>The difference to {CELSIUS.text(contents.asked.limit)} under common conditions, shared among the parts: "
        "each part is swapped between the two, in every combination, and the model says what that does. Best "
        "guesses.</p>"
        + _select("first", "Container", contents)
        + _select("second", "beside", contents)
        + '<p id="pair-text" class="said" aria-live="polite"></p><div class="chart" id="pair-chart"></div>'
        '<div id="pair-drawings" class="pair"></div>' + _as_table('<div id="pair-table"></div>')
    )
    return _section("why", "Why one holds longer than another", inside)


def _drawings() -> str:
    inside = (
        "<p>Cut through the axis, all at one scale, filled as in the ranking.</p>"
        '<div id="all-drawings" class="cuts"></div>'
    )
    return _section("drawings", "Drawings", inside)


# --- method and care ------------------------------------------------------------------------------------------


def _method(contents: PageContents) -> str:
    asked, bench = contents.asked, contents.known.bench
    basis = " ".join(basis_text(contents.known.entries).split())
    rows = [
        ("bench", bench.name),
        ("containers", str(len(bench.containers))),
        ("runs", f"{len(bench.runs)}, of which {sum(bool(c.is_wrong) for c in contents.runs)} went wrong"),
        ("thermometers", ", ".join(bench.probes) or "none named"),
        ("calibration", contents.known.file or "fitted to this bench when the page was made"),
        ("samples and seed", f"{asked.draws}, {asked.seed}"),
        ("version", f"holdtime {version()}"),
    ]
    notes = [
        *contents.known.warnings,
        *bench.warnings,
        *(f"{c.run.name}: {c.is_wrong}" for c in contents.runs if c.is_wrong),
    ]
    listed = "".join(f"<li>{escape(note)}</li>" for note in notes)
    inside = (
        f"<p>{escape(basis)}</p><p>Each container is described by what a ruler and a look into the lid can tell. The "
        "model follows the heat through lid, neck, walls and base over time. What no ruler can see is varied within "
        "what is known of it, and within what the readings leave open: that gives the ranges. They hold nine times in "
        "ten if the descriptions are right; dents, worn seals and lids that are not closed are not in them.</p>"
        + table("What it rests on", ("", ""), rows)
        + (f"<h3>What to know besides</h3><ul>{listed}</ul>" if listed else "")
    )
    return _section("method", "How this was made, and how sure it is", inside)


def _care(contents: PageContents) -> str:
    per_kind: dict[str, str] = {}
    for prediction in contents.predictions.values():
        for caution in cautions(prediction):
            per_kind.setdefault(caution.topic, caution.text)
    listed = "".join(f"<li>{escape(text)}</li>" for text in per_kind.values())
    inside = (
        f"<ul>{listed}<li>Food kept hot: 57 °C or above (US FDA Food Code 3-501.16), 63 °C in England; kept cold: 5 °C "
        "or below. Local codes and licensed practice decide.</li></ul>"
    )
    return _section("care", "Take care", inside)
