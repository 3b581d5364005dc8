// What a reader sees and does: charts, the what-if panel, and the address that says which conditions are shown.
"use strict";

(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const find = (id) => document.getElementById(id);
  const ZERO = 273.15;
  const called = (name) => data.called[name] ?? name;

  // --- words --------------------------------------------------------------------------------------------

  // Numbers stay beside their units.
  const whole = (parts) => parts.filter(Boolean).map((part) => part.replace(" ", "\u00a0")).join(" ");

  function duration(seconds) {
    if (Number.isNaN(seconds)) return "not known";
    if (!Number.isFinite(seconds)) return "longer than can be told";
    if (seconds < 3600) {
      const tens = Math.round(seconds / 10) * 10;
      const minutes = Math.floor(tens / 60), rest = tens % 60;
      return whole([minutes && `${minutes} min`, rest && `${rest} s`]) || whole(["0 s"]);
    }
    const minutes = Math.round(seconds / 60);
    if (minutes >= 2880) {
      const hours = Math.round(seconds / 3600);
      return whole([`${Math.floor(hours / 24)} d`, hours % 24 && `${hours % 24} h`]);
    }
    return whole([`${Math.floor(minutes / 60)} h`, minutes % 60 && `${minutes % 60} min`]);
  }

  // The ends and the middle of a range, rounded alike as in a ranking, but to a whole minute at least: tables know no better.
  function rangeOf({ low, middle, high }) {
    const spread = high - low, days = [low, middle, high].some((time) => Number.isFinite(time) && time >= 2 * 86400);
    const step = Number.isFinite(spread) ? Math.max(60, ...data.duration_steps_s.filter((one) => one <= 0.1 * spread)) : 60;
    const told = (seconds) => {
      if (!Number.isFinite(seconds)) return duration(seconds);
      const coarse = days ? Math.max(step, 3600) : step, near = Math.round(seconds / coarse) * coarse;
      if (near === 0) return `under ${duration(coarse)}`;
      const [d, h, min] = [days ? Math.floor(near / 86400) : 0, Math.floor((days ? near % 86400 : near) / 3600), (near % 3600) / 60];
      return whole([d && `${d} d`, h && `${h} h`, min && `${min} min`]);
    };
    return { low: told(low), middle: told(middle), high: told(high) };
  }

  const adds = (seconds) => `${Math.abs(seconds) < 5 ? "" : seconds < 0 ? "−" : "+"}${duration(Math.abs(seconds))}`;
  const celsius = (kelvin) => `${Number((kelvin - ZERO).toFixed(1))}\u00a0°C`;
  const millilitres = (m3) => `${Math.round(m3 * 1e6)}\u00a0mL`;

  function element(tag, attributes = {}, ...inside) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    made.append(...inside);
    return made;
  }

  function table(caption, head, rows) {
    const columns = element("tr", { role: "row" },
      ...head.map((text) => element("th", { scope: "col", role: "columnheader" }, text)));
    const lines = rows.map(([first, ...rest]) =>
      element("tr", { role: "row" }, element("th", { scope: "row", role: "rowheader" }, first),
        ...rest.map((text, i) => element("td", { role: "cell", "data-head": head[i + 1], ...(text.length > 26 ? {} : { class: "whole" }) }, text))));
    const made = element("table", { role: "table" }, element("caption", {}, caption),
      element("thead", { role: "rowgroup" }, columns), element("tbody", { role: "rowgroup" }, ...lines));
    // Few short columns have room on any screen.
    if (head.length < 4 && rows.every((row) => row.every((text) => text.length < 13))) made.className = "narrow";
    return element("div", { class: "wide", role: "region", tabindex: "0", "aria-label": caption }, made);
  }

  // --- charts -------------------------------------------------------------------------------------------

  const widthOf = (holder) => Math.max(260, Math.min(holder.clientWidth || 640, 880));
  const style = { background: "none", color: "inherit", fontSize: "13px", fontFamily: "inherit", overflow: "visible" };

  const ruler = document.createElement("canvas").getContext("2d"), widths = new Map();
  ruler.font = `${style.fontSize} ${getComputedStyle(find("panel-chart")).fontFamily}`;

  function widthOfText(text) {
    if (!widths.has(text)) widths.set(text, ruler.measureText(text).width);
    return widths.get(text);
  }

  // A text as it stands, or with its middle left out: names that are alike differ at their ends.
  function fitted(text, room) {
    if (widthOfText(text) <= room) return text;
    for (let kept = text.length - 1; kept > 2; kept -= 1) {
      const end = Math.floor(0.4 * kept), cut = `${text.slice(0, kept - end).trimEnd()}…${text.slice(text.length - end).trimStart()}`;
      if (widthOfText(cut) <= room) return cut;
    }
    return "…";
  }

  function show(holder, chart, says) {
    // One picture, one name: what its parts are called is no use without the picture.
    for (const part of chart.querySelectorAll("[aria-label]")) part.removeAttribute("aria-label");
    chart.setAttribute("role", "img");
    chart.setAttribute("aria-label", says);
    holder.replaceChildren(chart);
  }

  // Middle and range of each container, in groups that can't be told apart.
  function rankingChart(holder, rows, isHot, says) {
    const width = widthOf(holder), narrow = width < 560;
    const known = rows.filter((row) => Number.isFinite(row.middle));
    const longest = Math.max(...known.flatMap((row) => [row.middle, Number.isFinite(row.high) ? row.high : row.middle]), 60);
    const [unit, word] = longest < 5400 ? [60, "minutes"] : [3600, "hours"];
    const colour = isHot ? "var(--hot)" : "var(--cold)";
    const shown = rows.map((row) => ({
      ...row, label: called(row.name), x: Math.min(row.middle, longest) / unit,
      x1: (Number.isFinite(row.low) ? row.low : row.middle) / unit,
      x2: (Number.isFinite(row.high) ? row.high : Number.isNaN(row.high) ? row.middle : longest * 1.04) / unit,
    })).filter((row) => Number.isFinite(row.x));
    const tiers = [...new Set(shown.map((row) => row.tier))];
    const widest = (texts) => Math.ceil(Math.max(...texts.map(widthOfText), 20));
    const right = 16 + widest(shown.map((row) => row.told));
    const left = narrow ? 8 : Math.min(16 + widest(shown.map((row) => row.label)), Math.floor(0.42 * width));
    const room = narrow ? width - 8 - right : left - 14;
    let y = narrow ? 6 : 0;
    const rowHeight = narrow ? 38 : 25;
    shown.forEach((row, i) => {
      if (i && row.tier !== shown[i - 1].tier) y += 12;
      row.y = y + rowHeight / 2;
      y += rowHeight;
    });
    const breaks = shown.filter((row, i) => i && row.tier !== shown[i - 1].tier).map((row) => row.y - rowHeight / 2 - 6);
    const name = narrow
      ? Plot.text(shown, { x: 0, y: "y", text: (row) => fitted(row.label, room), textAnchor: "start", dy: -13, frameAnchor: "left" })
      : Plot.text(shown, { y: "y", text: (row) => fitted(row.label, room), textAnchor: "end", frameAnchor: "left", dx: -9 });
    const told = Plot.text(shown, { y: "y", text: "told", textAnchor: "end", frameAnchor: "right", ...(narrow ? { dy: -13 } : { dx: right - 8 }) });
    show(holder, Plot.plot({
      width, height: y + 52, marginLeft: left, marginRight: narrow ? 10 : right, marginTop: 6, marginBottom: 44, style,
      x: { domain: [0, longest * 1.05 / unit], label: `holds for [${word}]`, grid: true, labelAnchor: "center", labelArrow: "none",
        ticks: Math.max(3, Math.floor(width / 110)) },
      y: { domain: [y, 0], axis: null },
      marks: [
        Plot.ruleY(breaks, { stroke: "var(--line)", strokeDasharray: "2 5" }),
        Plot.ruleX([0], { stroke: "var(--line)" }),
        Plot.ruleY(shown, { y: "y", x1: "x1", x2: "x2", stroke: colour, strokeWidth: 5, strokeOpacity: 0.4, strokeLinecap: "round" }),
        Plot.dot(shown, { y: "y", x: "x", fill: colour, r: 4.5 }),
        name, told,
      ],
    }), says);
    return tiers.length;
  }

  const rowsOf = (name) => data.rankings[name].map((row) => ({
    name: row.name, tier: row.tier, told: row.told, low: row.low_s ?? (row.middle_s === null ? Infinity : NaN), middle: row.middle_s ?? Infinity,
    high: row.high_s ?? Infinity,
  }));

  function rankings() {
    for (const holder of document.querySelectorAll("[data-ranking]")) {
      const name = holder.dataset.ranking;
      rankingChart(holder, rowsOf(name), name !== "cold", `Ranking, ${name}: the table after it holds the same numbers`);
    }
  }

  function curveMarks(curve, colour) {
    const points = curve.h.map((h, i) => ({ h, best: curve.best[i], low: curve.low[i], high: curve.high[i] }));
    return [
      Plot.areaY(points, { x: "h", y1: "low", y2: "high", fill: colour, fillOpacity: 0.22 }),
      Plot.lineY(points, { x: "h", y: "best", stroke: colour, strokeWidth: 2 }),
    ];
  }

  const axes = (width, height) => ({
    width, height, marginLeft: 44, marginRight: 12, marginTop: 24, marginBottom: 40, style,
    x: { label: "time [h]", labelAnchor: "center", labelArrow: "none", nice: true, ticks: Math.max(3, Math.floor(width / 90)) },
    y: { label: "contents [°C]", labelArrow: "none", grid: true, nice: true, ticks: 5 },
  });

  function curves() {
    const name = find("curves-of").value, holder = find("run-charts");
    const own = data.runs.filter((run) => run.container === name);
    const room = holder.clientWidth || 300, columns = Math.max(1, Math.min(own.length, Math.floor((room + 19) / 291)));
    const each = Math.min((room - 19 * (columns - 1)) / columns, 430);
    holder.style.gridTemplateColumns = `repeat(${columns}, minmax(0, ${each}px))`;
    holder.replaceChildren(...own.map((run) => {
      const isHot = run.best[0] >= run.best[run.best.length - 1];
      const colour = isHot ? "var(--hot)" : "var(--cold)";
      const figure = element("figure", {});
      const chart = Plot.plot({ ...axes(each, Math.min(230, 0.35 * each + 85)), marks: [
        ...curveMarks(run, colour),
        Plot.ruleY(run.passings.filter((p) => p[1] !== null), { y: (p) => p[2], x1: (p) => p[0], x2: (p) => p[1], stroke: "currentColor", strokeWidth: 3 }),
        Plot.dot(run.readings, { x: (r) => r[0], y: (r) => r[1], r: 2.4, fill: "currentColor" }),
      ] });
      const says = `Run ${run.run}, ${run.readings.length} readings beside the model; ${run.conditions}`;
      show(figure, chart, says);
      const text = element("figcaption", {}, element("b", {}, run.run), ` ${run.conditions}`);
      if (run.wrong) text.append(element("br"), `Went wrong: ${run.wrong}`);
      figure.append(text);
      return figure;
    }));
    if (!own.length) holder.append(element("p", {}, "No run of this container has readings."));
    common(name);
    // About a dozen of each run: enough to follow it, few enough to print.
    const some = (readings) => readings.filter((_, i) => i % Math.ceil(readings.length / 12) === 0 || i === readings.length - 1);
    const rows = own.map((run) => [run.run, some(run.readings).map(([h, t]) => `${duration(3600 * h)}: ${t.toFixed(1)}\u00a0°C`).join("; ")]);
    find("curve-table").replaceChildren(table(`Readings of ${called(name)}, about a dozen of each run`, ["run", "time and temperature"], rows));
  }

  function common(name) {
    const holder = find("common-chart"), width = widthOf(holder);
    const others = Object.entries(data.curves).filter(([other]) => other !== name);
    const lines = others.map(([, curve]) => Plot.lineY(curve.h.map((h, i) => [h, curve.best[i]]),
      { x: "0", y: "1", stroke: "var(--line)", strokeWidth: 1.2 }));
    const isHot = data.asked.start_K > data.asked.room_K;
    const limit = data.asked.limit_K - ZERO;
    const own = data.curves[name] ? curveMarks(data.curves[name], isHot ? "var(--hot)" : "var(--cold)") : [];
    const end = data.curves[name] ? data.curves[name].h[data.curves[name].h.length - 1] : 1;
    show(holder, Plot.plot({ ...axes(width, Math.min(340, 0.6 * width + 80)), marks: [
      ...lines, ...own, Plot.ruleY([limit], { stroke: "currentColor", strokeDasharray: "5 4" }),
      Plot.text([limit], { x: end, y: limit, text: () => `${Number(limit.toFixed(1))} °C`, textAnchor: "end", dy: -8 }),
    ] }), `${called(name)} under common conditions, the others as thin lines`);
  }

  // --- why ----------------------------------------------------------------------------------------------

  function pairOf(first, second) {
    for (const pair of data.pairs) {
      if (pair.names[0] === first && pair.names[1] === second) return { ...pair, sign: 1 };
      if (pair.names[1] === first && pair.names[0] === second) {
        return { ...pair, sign: -1, times: [...pair.times].reverse(), times_s: [...pair.times_s].reverse() };
      }
    }
    return null;
  }

  // Side by side at one scale, however narrow the screen.
  function drawPair(holder, names) {
    holder.innerHTML = names.map((name) => data.drawings[name] ?? "").join("");
    const wide = [...holder.children].reduce((sum, cut) => sum + parseFloat(cut.style.getPropertyValue("--mm")), 0);
    holder.style.setProperty("--scale", Math.min(1.3, ((holder.clientWidth || 640) - 20) / Math.max(wide, 1)));
  }

  function why() {
    if (!find("why")) return;
    const first = find("first").value, second = find("second").value;
    const text = find("pair-text"), holder = find("pair-chart"), below = find("pair-table");
    drawPair(find("pair-drawings"), first === second ? [first] : [first, second]);
    const pair = pairOf(first, second);
    if (first === second || !pair) {
      text.textContent = first === second ? "Choose two containers." :
        "These two are not taken apart on this page: with many containers, each is explained beside the next in the ranking and beside the best. Where their heat goes:";
      holder.replaceChildren();
      const paths = [...new Set([first, second].flatMap((name) => Object.keys(data.paths[name] ?? {})))];
      const part = (name, path) => (path in (data.paths[name] ?? {}) ? `${Math.round(100 * data.paths[name][path])} %` : "");
      below.replaceChildren(table("Share of the heat by its way out", ["way", called(first), called(second)],
        paths.map((path) => [path, part(first, path), part(second, path)])));
      return;
    }
    const shares = pair.shares.map((share) => ({ part: share.part, s: pair.sign * share.s }));
    const difference = pair.times_s[0] - pair.times_s[1];
    const ahead = difference >= 0 ? 0 : 1, way = difference >= 0 ? 1 : -1;
    const names = [called(first), called(second)];
    const told = (sign) => shares.filter((share) => sign * way * share.s > 0.02 * Math.abs(shares[0].s)).slice(0, 3)
      .map((share) => `${share.part} (${adds(sign * Math.abs(share.s))})`).join(", ");
    const [gives, takes] = [told(1), told(-1)];
    text.textContent = `${names[ahead]} holds for ${pair.times[ahead]}, ${names[1 - ahead]} for ${pair.times[1 - ahead]}: ` +
      `${duration(Math.abs(difference))} longer. ` + (gives ? `What makes it hold longer: ${gives}. ` : "") +
      (takes ? `What speaks against it: ${takes}.` : "");
    const width = widthOf(holder), unit = Math.max(...shares.map((s) => Math.abs(s.s)), 1) < 5400 ? [60, "minutes"] : [3600, "hours"];
    const ends = shares.map((share) => share.s / unit[0]);
    show(holder, Plot.plot({
      width, height: 28 * shares.length + 60, marginLeft: 112, marginRight: 18, marginBottom: 44, marginTop: 6, style,
      x: { label: width < 560 || names[0].length > 40 ? `longer by [${unit[1]}]` : `makes ${names[0]} hold longer by [${unit[1]}]`, labelAnchor: "center", labelArrow: "none", grid: true,
        domain: [Math.min(0, ...ends) * 1.05, Math.max(0, ...ends, 1e-9) * 1.05], ticks: Math.max(3, Math.floor(width / 110)) },
      y: { domain: shares.map((share) => share.part), label: null, tickSize: 0 },
      marks: [
        Plot.barX(shares, { y: "part", x: (share) => share.s / unit[0], fill: "var(--part)", insetTop: 4, insetBottom: 4 }),
        Plot.ruleX([0]),
      ],
    }), `What each part adds to the difference between ${names[0]} and ${names[1]}`);
    const of = (name, part) => data.parts[name]?.[part] ?? "";
    below.replaceChildren(table(`${names[0]} beside ${names[1]}`, ["part", "adds", names[0], names[1]], [
      ...shares.map((share) => [share.part, adds(share.s), of(first, share.part), of(second, share.part)]),
      ...pair.same.map((part) => [part, "the same", of(first, part), of(second, part)]),
    ]));
  }

  // --- what if ------------------------------------------------------------------------------------------

  const sides = data.what_if.sides;
  const held = { hot: new Map(), cold: new Map() };
  let bytes = null;

  function tablesOf(side, name) {
    if (!held[side].has(name)) held[side].set(name, reduced.tablesOf(sides[side], name, bytes));
    return held[side].get(name);
  }

  const usual = () => ({
    side: data.asked.start_K > data.asked.room_K ? "hot" : "cold",
    start: data.asked.start_K, room: data.asked.room_K, limit: data.asked.limit_K,
    fill: data.asked.fill_m3, share: 1, every: null,
  });
  const usualCold = () => ({ ...usual(), side: "cold", start: data.asked.cold_start_K, limit: data.asked.cold_limit_K });
  let state = usual();

  // Why nothing can be said of a state, "" if all is well.
  function outside(asked) {
    const side = sides[asked.side], within = (value, [low, high]) => value >= low - 1e-9 && value <= high + 1e-9;
    const span = ([low, high]) => `${Number((low - ZERO).toFixed(1))} to ${celsius(high)}`;
    const way = asked.side === "hot" ? 1 : -1;
    if (!within(asked.start, side.start_K)) return `The panel knows ${asked.side} contents poured in at ${span(side.start_K)}, not ${celsius(asked.start)}.`;
    if (!within(asked.room, side.room_K)) return `For ${asked.side} contents the panel knows rooms of ${span(side.room_K)}, not ${celsius(asked.room)}.`;
    if (way * (asked.start - asked.limit) < side.least_change_K - 1e-9) return `The limit has to lie at least ${side.least_change_K} K from the start, ${celsius(asked.start)}, towards the room.`;
    if (way * (asked.limit - asked.room) < side.nearest_K - 1e-9) return `The limit has to stay at least ${side.nearest_K} K from the room, ${celsius(asked.room)}: nearer to it, hold times hang on tenths of a degree.`;
    if (!within(asked.limit, side.limits_K)) return `The panel knows limits of ${span(side.limits_K)}, not ${celsius(asked.limit)}.`;
    if (asked.fill === null && !within(asked.share, side.share)) return `The panel knows fills from ${Math.round(100 * side.share[0])} % of full to full.`;
    return "";
  }

  // Standings of all containers in a state, and those of which nothing can be said.
  function answer(asked) {
    const side = sides[asked.side], problem = outside(asked), missing = { ...side.left_out };
    if (problem) return { problem, standings: [], missing };
    const at = reduced.prepared(side, asked), standings = [];
    for (const name of Object.keys(side.tables)) {
      const tables = tablesOf(asked.side, name), full = tables.full[0];
      if (asked.fill !== null && asked.fill > full * (1 + 1e-9)) missing[name] = `full with ${millilitres(full)}`;
      else if (asked.fill !== null && asked.fill < full * side.share[0]) missing[name] = `less than ${Math.round(100 * side.share[0])} % full, which the panel does not know`;
      else standings.push(reduced.standing(name, reduced.holdTimes(side, tables, asked, at)));
    }
    const shown = standings.filter((one) => !Number.isNaN(one.middle));
    return { problem: "", standings: reduced.inTiers(shown, data.told_apart_from), missing };
  }

  function words(asked) {
    const fill = asked.fill !== null ? millilitres(asked.fill) : asked.share === 1 ? "each full" : `each ${Math.round(100 * asked.share)} % full`;
    const lid = asked.every === null ? "" : `, lid off for ${sides[asked.side].seconds_off} s ${asked.every < 3600 ? "every half hour" : asked.every === 3600 ? "every hour" : `every ${asked.every / 3600} hours`}`;
    return `${fill}, poured in at ${celsius(asked.start)}, room ${celsius(asked.room)}${lid}`;
  }

  function verdict(asked, found) {
    if (found.problem) return found.problem;
    if (!found.standings.length) return "No container can be filled like that.";
    const [best, ...rest] = found.standings, level = rest.filter((one) => one.tier === 1);
    const way = asked.side === "hot" ? "above" : "below";
    const told = rangeOf(best), range = Number.isNaN(best.low) || told.low === told.high ? "" : ` (probably ${told.low} to ${told.high})`;
    let text = `${called(best.name)} ${rest.length ? "holds longest," : "stays"} ${way} ${celsius(asked.limit)} for ${told.middle}${range}`;
    if (level.length && level.length <= 4) text += `. Can't honestly be told apart from it: ${level.map((one) => called(one.name)).join("; ")}`;
    else if (level.length) text += `. ${level.length} others can't honestly be told apart from it`;
    return `${text}. ${words(asked)[0].toUpperCase()}${words(asked).slice(1)}.`;
  }

  // Where the tables are too coarse for a few per cent, the page says so.
  function roughlyTold(standings) {
    const short = standings.filter((one) => one.low < data.what_if.short_s).map((one) => called(one.name));
    if (!short.length) return "";
    const which = short.length > 4 ? `${short.length} containers` : short.join("; ");
    return `Ranges that begin within ${duration(data.what_if.short_s)} are told to within a minute (${which}); holdtime compare tells them exactly.`;
  }

  let speaking = 0;

  function panel({ quietly = false } = {}) {
    if (!bytes) return;
    const found = answer(state);
    clearTimeout(speaking);
    const says = verdict(state, found);
    // While a slider moves, a screen reader is told only where it comes to rest.
    if (quietly) find("answer").textContent = says;
    else speaking = setTimeout(() => { find("answer").textContent = says; }, 120);
    const holder = find("panel-chart"), notes = find("panel-notes"), below = find("panel-table");
    const left = Object.entries(found.missing).map(([name, reason]) => `${called(name)}: ${reason}`);
    const texts = [left.length ? `Not in this list: ${left.join("; ")}.` : "", roughlyTold(found.standings)];
    notes.replaceChildren(...texts.filter(Boolean).map((text) => element("p", { class: "note" }, text)));
    if (!found.standings.length) {
      holder.replaceChildren();
      below.replaceChildren();
      return;
    }
    const standings = found.standings.map((one) => ({ ...one, told: rangeOf(one).middle }));
    rankingChart(holder, standings, state.side === "hot", "Ranking under the conditions asked: the table after it holds the same numbers");
    const before = new Map((data.rankings[state.side === "cold" && data.rankings.cold ? "cold" : "hot"]).map((row, i) => [row.name, i + 1]));
    below.replaceChildren(table("Under the conditions asked", ["container", "holds for", "nine in ten", "group", "place in the ranking"],
      found.standings.map((one) => {
        const told = rangeOf(one), range = Number.isNaN(one.low) ? "" : told.low === told.high ? told.low : `${told.low} to ${told.high}`;
        return [`${one.place}. ${called(one.name)}`, told.middle, range, String(one.tier), String(before.get(one.name) ?? "")];
      })));
  }

  // --- controls and the address -------------------------------------------------------------------------

  const sliders = ["room", "start", "limit"];

  function span(id) {
    const side = sides[state.side];
    return { room: side.room_K, start: side.start_K, limit: side.limits_K }[id];
  }

  function write(id, text) {
    find(id).setAttribute("aria-valuetext", text);
    document.querySelector(`output[for="${id}"]`).textContent = text;
  }

  function showControls() {
    for (const input of document.querySelectorAll('input[name="side"]')) input.checked = input.value === state.side;
    for (const id of sliders) {
      const [low, high] = span(id), input = find(id);
      input.min = (low - ZERO).toFixed(1);
      input.max = (high - ZERO).toFixed(1);
      input.value = (state[id] - ZERO).toFixed(1);
      write(id, celsius(state[id]));
    }
    find("fill").value = state.fill !== null ? "volume" : state.share === 1 ? "full" : state.share === 0.5 ? "half" : "75%";
    find("volume-field").hidden = state.fill === null;
    if (state.fill !== null) find("volume").value = Math.round(state.fill * 1e6);
    write("volume", millilitres(state.fill ?? 0));
    find("lid").value = state.every === null ? "never" : String(state.every);
  }

  function readFill(text) {
    const number = parseFloat(text);
    if (text === "full") return { fill: null, share: 1 };
    if (text === "half") return { fill: null, share: 0.5 };
    if (/^[\d.]+ ?%$/.test(text)) return { fill: null, share: number / 100 };
    if (/^[\d.]+ ?m[lL]$/.test(text)) return { fill: number * 1e-6, share: 1 };
    if (/^[\d.]+ ?[lL]$/.test(text)) return { fill: number * 1e-3, share: 1 };
    return null;
  }

  function readTemperature(text) {
    const found = /^(-?[\d.]+) ?°?(C|F|K)$/i.exec(text);
    if (!found) return null;
    const number = parseFloat(found[1]), unit = found[2].toUpperCase();
    return unit === "K" ? number : unit === "C" ? number + ZERO : (number - 32) / 1.8 + ZERO;
  }

  function readPeriod(text) {
    const found = /^([\d.]+) ?(min|h|s)$/.exec(text);
    if (text === "never") return { every: null };
    return found ? { every: parseFloat(found[1]) * { s: 1, min: 60, h: 3600 }[found[2]] } : null;
  }

  // What the address asks for; null if it asks for no state. What is not understood is told, not guessed.
  function fromAddress(text) {
    if (!text.includes("=")) return null;
    const given = new URLSearchParams(text.replace(/\+/g, "%2B")), unknown = [];
    const asked = given.get("contents") === "cold" ? usualCold() : given.get("contents") === "hot" && usual().side === "hot" ? usual() : usual();
    for (const [name, value] of given) {
      const temperature = sliders.includes(name) ? readTemperature(value) : null;
      const fill = name === "fill" ? readFill(value) : null, period = name === "lid_off_every" ? readPeriod(value) : null;
      if (temperature !== null) asked[name] = temperature;
      else if (fill) Object.assign(asked, fill);
      else if (period && (period.every === null || data.what_if.periods_s.includes(period.every))) asked.every = period.every;
      else if (!(name === "contents" && ["hot", "cold"].includes(value))) unknown.push(`${name}=${value}`);
    }
    return { asked, unknown };
  }

  function toAddress() {
    const short = (kelvin) => `${Number((kelvin - ZERO).toFixed(1))}C`;
    const fill = state.fill !== null ? `${Math.round(state.fill * 1e6)}mL` : state.share === 1 ? "full" : state.share === 0.5 ? "half" : `${Math.round(100 * state.share)}%25`;
    const parts = [`contents=${state.side}`, `room=${short(state.room)}`, `start=${short(state.start)}`, `limit=${short(state.limit)}`, `fill=${fill}`];
    if (state.every !== null) parts.push(`lid_off_every=${state.every / 60}min`);
    return `#${parts.join("&")}`;
  }

  function keepAddress() {
    history.replaceState(null, "", toAddress());
  }

  function onInput(event) {
    const { id, name, value } = event.target;
    if (name === "side") {
      const fresh = value === "cold" ? usualCold() : usual();
      state = { ...fresh, room: clamp(state.room, sides[value].room_K), fill: state.fill, share: state.share, every: state.every };
      if (outside(state)) state.room = fresh.room;
    } else if (sliders.includes(id)) state[id] = parseFloat(value) + ZERO;
    else if (id === "fill") Object.assign(state, value === "volume" ? { fill: Math.round(1e5 * smallest()) * 1e-5, share: 1 } : readFill(value));
    else if (id === "volume") state.fill = parseFloat(value) * 1e-6;
    else if (id === "lid") state.every = value === "never" ? null : parseFloat(value);
    showControls();
    panel();
    keepAddress();
  }

  const clamp = (value, [low, high]) => Math.min(Math.max(value, low), high);
  // A volume that fits into most: the middle of all full fills, half of it.
  const smallest = () => data.asked.fill_m3 ?? 0.5 * d3.median(data.rankings.hot, (row) => row.fill_m3);

  function followAddress() {
    let text = location.hash.slice(1);
    try { text = decodeURIComponent(text); } catch { /* as it stands */ }
    const found = fromAddress(text);
    if (!found) return false;
    state = found.asked;
    showControls();
    panel({ quietly: true });
    if (found.unknown.length) find("answer").textContent = `The address holds what this page does not understand: ${found.unknown.join(", ")}. ${find("answer").textContent}`;
    return true;
  }

  // --- all together -------------------------------------------------------------------------------------

  function draw() {
    rankings();
    curves();
    why();
    panel({ quietly: true });
  }

  function fillDrawings() {
    find("all-drawings").replaceChildren(...Object.entries(data.drawings).map(([name, svg]) => {
      const figure = element("figure", {});
      figure.innerHTML = svg;
      figure.append(element("figcaption", {}, called(name)));
      return figure;
    }));
  }

  async function start() {
    if (find("why")) find("second").selectedIndex = 1;
    showControls();
    find("asked").addEventListener("input", onInput);
    find("asked").addEventListener("submit", (event) => event.preventDefault());
    find("reset").addEventListener("click", () => { state = usual(); showControls(); panel(); keepAddress(); });
    find("curves-of").addEventListener("change", curves);
    for (const id of ["first", "second"]) find(id)?.addEventListener("change", why);
    window.addEventListener("hashchange", followAddress);
    // Print holds the tables too.
    const shut = [];
    window.addEventListener("beforeprint", () => {
      for (const one of document.querySelectorAll("details:not([open])")) { one.open = true; shut.push(one); }
    });
    window.addEventListener("afterprint", () => { for (const one of shut.splice(0)) one.open = false; });
    let width = window.innerWidth;
    window.addEventListener("resize", () => {
      if (window.innerWidth !== width) { width = window.innerWidth; requestAnimationFrame(draw); }
    });
    try {
      bytes = await reduced.unpack(data.what_if.packed);
      if (!followAddress()) panel({ quietly: true });
    } catch (error) {
      if (typeof DecompressionStream !== "undefined") throw error;
      find("answer").textContent = "This browser is too old for the panel; browsers from 2023 on can do it.";
    }
    at.panel = performance.now();
    document.documentElement.dataset.ready = "panel";
    rankings();
    curves();
    why();
    fillDrawings();
    // Only now is everything above the panel as high as it stays.
    if (location.hash.includes("=")) find("panel").scrollIntoView({ behavior: "instant" });
    at.all = performance.now();
    document.documentElement.dataset.ready = "all";
  }

  // When the panel first answered, and when all was drawn, since the page was opened. [ms]
  const at = {};
  window.holdtime = { answer, at, rangeOf, ready: start() };
})();
