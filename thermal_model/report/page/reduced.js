// Hold times from tables, in the very steps of the Python of the same name (judge/what_if/reduced.py).
"use strict";

const reduced = (() => {
  // --- tables as they stand in the page -----------------------------------------------------------------

  async function unpack(text) {
    const squeezed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([squeezed]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }

  // Whole numbers of one or two bytes, high bytes apart from low ones, each row the difference to the one before.
  function numbers(bytes, packed) {
    const { at, count, rows, scale } = packed;
    const whole = packed.bytes === 1 ? new Int8Array(count) : new Int16Array(count);
    for (let i = 0; i < count; i += 1) {
      whole[i] = packed.bytes === 1 ? bytes[at + i] : bytes[at + i] | (bytes[at + count + i] << 8);
    }
    const across = count / rows;
    for (let i = across; i < count; i += 1) whole[i] += whole[i - across];
    const none = packed.bytes === 1 ? -128 : -32768;
    return Float64Array.from(whole, (value) => (value === none ? NaN : value * scale));
  }

  function tablesOf(side, name, bytes) {
    const packed = side.tables[name];
    const read = (one) => numbers(bytes, one);
    const draws = packed.lid_off_factors.count;
    const each = (values) =>
      Float64Array.from({ length: draws }, (_, j) => {
        const value = values[values.length === 1 ? 0 : j];
        return value === null ? NaN : value;
      });
    return {
      draws,
      coarse: read(packed.coarse),
      fine: read(packed.fine),
      shapes: packed.shapes.map(read),
      amounts: packed.amounts.map(read),
      unit: each(packed.unit_s),
      stretch: each(packed.stretch),
      full: each(packed.full_m3),
      startOff: read(packed.start_off),
      roomOff: read(packed.room_off),
      lidOff: packed.lid_off,
      factors: read(packed.lid_off_factors),
    };
  }

  // --- weights ------------------------------------------------------------------------------------------

  function polynomial(nodes, at, first = 0, count = nodes.length) {
    const weights = new Float64Array(nodes.length);
    for (let i = first; i < first + count; i += 1) {
      let weight = 1;
      for (let j = first; j < first + count; j += 1) {
        if (j !== i) weight *= (at - nodes[j]) / (nodes[i] - nodes[j]);
      }
      weights[i] = weight;
    }
    return weights;
  }

  // Cubics through the four nearest nodes.
  function local(nodes, at) {
    let place = 0;
    while (place < nodes.length && nodes[place] < at) place += 1;
    return polynomial(nodes, at, Math.min(Math.max(place - 2, 0), nodes.length - 4), 4);
  }

  // A table over time and fill, from one over time, start, room and fill.
  function atStartAndRoom(table, grid, start, room, times) {
    const [a, b, c] = [grid.start.length, grid.room.length, grid.share.length];
    const out = new Float64Array(times * c);
    let place = 0;
    for (let t = 0; t < times; t += 1) {
      for (let i = 0; i < a; i += 1) {
        for (let j = 0; j < b; j += 1) {
          const weight = start[i] * room[j];
          for (let k = 0; k < c; k += 1, place += 1) out[t * c + k] += weight * table[place];
        }
      }
    }
    return out;
  }

  function atShare(table, weights, times, out) {
    const c = weights.length;
    for (let t = 0; t < times; t += 1) {
      let sum = 0;
      for (let k = 0; k < c; k += 1) sum += weights[k] * table[t * c + k];
      out[t] += sum;
    }
  }

  // --- a row of u over time -----------------------------------------------------------------------------

  function cubic(row, first, x) {
    const a = x - 1, b = x - 2, c = x - 3;
    return (
      (-row[first] * a * b * c) / 6 + (row[first + 1] * x * b * c) / 2 - (row[first + 2] * x * a * c) / 2 +
      (row[first + 3] * x * a * b) / 6
    );
  }

  // Where the row first reaches a value, as an index with its fraction.
  function crossing(row, wanted, steps, from = 0) {
    let above = from;
    while (above <= steps && !(row[above] >= wanted)) above += 1;
    if (above > steps) return Infinity;
    if (above === 0) return 0;
    const first = Math.min(Math.max(above - 2, 0), steps - 3);
    // The cubic through four values, as powers of the way from the first of them.
    const one = row[first + 1] - row[first], two = row[first + 2] - row[first + 1] - one;
    const three = row[first + 3] - row[first + 2] - row[first + 1] + row[first] - 2 * two;
    const c3 = three / 6, c2 = 0.5 * (two - three), c1 = one - 0.5 * two + three / 3;
    let low = above - 1 - first, high = low + 1;
    let x = low + (wanted - row[above - 1]) / (row[above] - row[above - 1]);
    for (let turn = 0; turn < 60; turn += 1) {
      const value = ((c3 * x + c2) * x + c1) * x + row[first] - wanted;
      if (Math.abs(value) < 1e-13 || high - low < 1e-10) break;
      if (value < 0) low = x;
      else high = x;
      // Newton's step; the middle where that leads out.
      const next = x - value / ((3 * c3 * x + 2 * c2) * x + c1);
      x = next > low && next < high ? next : 0.5 * (low + high);
    }
    return first + x;
  }

  function valueAt(row, place, steps) {
    if (!(place <= steps)) return Infinity;
    const first = Math.min(Math.max(Math.ceil(place) - 2, 0), steps - 3);
    return cubic(row, first, place - first);
  }

  const timeAt = (side, place) => side.finest * ((1 + side.reach / side.finest) ** (place / side.steps) - 1);
  const placeOf = (side, time) => (side.steps * Math.log1p(time / side.finest)) / Math.log1p(side.reach / side.finest);

  // --- hold times ---------------------------------------------------------------------------------------

  function prepared(side, state) {
    const at = {};
    for (const [name, grid] of Object.entries(side.grids)) {
      at[name] = [polynomial(grid.start, state.start), polynomial(grid.room, state.room)];
    }
    return at;
  }

  // Of every draw of a container, the best guess first. [s]
  function holdTimes(side, tables, state, at = prepared(side, state)) {
    const times = side.steps + 1, grids = side.grids;
    const over = (table, name) => atStartAndRoom(table, grids[name], at[name][0], at[name][1], times);
    const coarse = over(tables.coarse, "coarse"), fine = over(tables.fine, "fine");
    const shapes = tables.shapes.map((shape) => over(shape, "drawn"));
    const furthest = (start, room) => Math.log(Math.abs(start - room) / side.nearest_K);
    const stretch = furthest(state.start, state.room) / furthest(...side.slowest_K);
    const held = new Float64Array(tables.draws);
    const best = new Float64Array(times), row = new Float64Array(times);
    const parts = shapes.map(() => new Float64Array(times));
    const weights = Float64Array.from({ length: times }, (_, t) => timeAt(side, t) + side.early);
    let known = NaN;
    for (let j = 0; j < tables.draws; j += 1) {
      const share = state.fill === null ? state.share : state.fill / tables.full[j];
      if (share !== known) {
        known = share;
        best.fill(0);
        atShare(coarse, polynomial(grids.coarse.share, share), times, best);
        atShare(fine, local(grids.fine.share, share), times, best);
        const across = local(grids.drawn.share, share);
        shapes.forEach((shape, r) => { parts[r].fill(0); atShare(shape, across, times, parts[r]); });
      }
      row.fill(0);
      for (let r = 0; r < parts.length; r += 1) {
        const amount = tables.amounts[r][j], part = parts[r];
        for (let t = 0; t < times; t += 1) row[t] += amount * part[t];
      }
      for (let t = 0; t < times; t += 1) row[t] = weights[t] * (best[t] + row[t]);
      const unit = tables.unit[j] * share * stretch;
      const start = Math.min(Math.max(state.start + tables.startOff[j], side.liquid_K[0]), side.liquid_K[1]);
      const room = state.room + tables.roomOff[j];
      const wanted = Math.log((start - room) / (state.limit - room));
      if (Number.isNaN(row[0]) || Number.isNaN(unit)) held[j] = NaN;
      else if (state.every === null) held[j] = timeAt(side, crossing(row, wanted, side.steps)) * unit * tables.stretch[j];
      else {
        const takes = (reached) =>
          tables.factors[j] * step(tables.lidOff, room + (start - room) * Math.exp(-reached), room, share);
        held[j] = withOpenings(side, state.every, row, wanted, unit, takes) * tables.stretch[j];
      }
    }
    return held;
  }

  // Each opening takes a step of u, after which the closed container goes on.
  function withOpenings(side, every, row, wanted, unit, takes) {
    const end = timeAt(side, crossing(row, wanted, side.steps)) * unit;
    let since = 0;
    if (!Number.isFinite(end)) return Infinity;
    for (let opening = 0; opening <= 400; opening += 1) {
      const left = end - since;
      if (left <= every) return opening * every + left;
      const place = placeOf(side, (since + every) / unit);
      let reached = valueAt(row, place, side.steps);
      reached += takes(reached);
      if (reached >= wanted) return (opening + 1) * every;
      since = timeAt(side, crossing(row, reached, side.steps, Math.max(0, Math.floor(place) - 1))) * unit;
    }
    return Infinity;
  }

  function step(coefficients, temperature, room, share) {
    const vapour = (Math.exp((temperature - 333.15) / 22) * 40) / Math.abs(temperature - room);
    const terms = [1, 1 / share, vapour, vapour / share, vapour * share];
    let sum = 0;
    for (let i = 0; i < terms.length; i += 1) sum += coefficients[i] * terms[i];
    return Math.max(sum, 0);
  }

  // --- rankings -----------------------------------------------------------------------------------------

  // The smallest number that so large a share of sorted ones does not exceed, one of them.
  const quantile = (sorted, share) => sorted[Math.ceil(share * (sorted.length - 1) - 1e-9)];

  function standing(name, times) {
    const drawn = times.slice(1).filter((value) => !Number.isNaN(value)).sort();
    const has = drawn.length > 0;
    return {
      name, times, best: times[0],
      low: has ? quantile(drawn, 0.05) : NaN, middle: has ? quantile(drawn, 0.5) : times[0],
      high: has ? quantile(drawn, 0.95) : NaN,
    };
  }

  function chanceOfLonger(first, second) {
    let ahead = 0, known = 0;
    for (let j = 1; j < first.length; j += 1) {
      if (Number.isNaN(first[j]) || Number.isNaN(second[j])) continue;
      known += 1;
      if (first[j] > second[j]) ahead += 1;
      else if (first[j] === second[j]) ahead += 0.5;
    }
    return known ? ahead / known : NaN;
  }

  function inTiers(standings, clear) {
    standings.sort((a, b) => b.middle - a.middle || b.best - a.best || (a.name < b.name ? -1 : 1));
    let tier = 1, head = standings[0];
    standings.forEach((one, place) => {
      if (chanceOfLonger(head.times, one.times) >= clear) { tier += 1; head = one; }
      one.tier = tier;
      one.place = place + 1;
    });
    return standings;
  }

  return { unpack, tablesOf, holdTimes, prepared, standing, inTiers };
})();
