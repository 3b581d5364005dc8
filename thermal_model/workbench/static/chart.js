"use strict";
// A curve with its band, drawn by Observable Plot; hot is warm-coloured, cold cool-coloured.
function drawCurve(place, curve, beside, points) {
  const ink = curve.hot ? "#b4491a" : "#1f6a9a";
  const rows = curve.hours.map((hour, k) => ({ hour, middle: curve.middle[k], low: curve.low[k], high: curve.high[k] }));
  const marks = [
    Plot.areaY(rows, { x: "hour", y1: "low", y2: "high", fill: ink, fillOpacity: 0.18 }),
    Plot.ruleY([curve.limit], { stroke: "#22303a", strokeDasharray: "5 4" }),
    Plot.text([curve.limit], { y: (d) => d, text: (d) => `${d} ${curve.unit}`, frameAnchor: "right", dy: -8 }),
    Plot.lineY(rows, { x: "hour", y: "middle", stroke: ink, strokeWidth: 2.2 }),
  ];
  if (beside) {
    const other = beside.hours.map((hour, k) => ({ hour, middle: beside.middle[k] }));
    marks.push(Plot.lineY(other, { x: "hour", y: "middle", stroke: "#4a4f8c", strokeWidth: 2, strokeDasharray: "2 3" }));
  }
  if (points && points.length) {
    marks.push(Plot.dot(points, { x: "hour", y: "shown", fill: "#22303a", r: 4 }));
  }
  const picture = Plot.plot({
    width: Math.max(place.clientWidth, 280),
    height: 240,
    marginLeft: 48,
    ariaLabel: `Temperature over ${curve.hours[curve.hours.length - 1].toFixed(1)} hours, from ${curve.middle[0]} to ${curve.middle[curve.middle.length - 1]} ${curve.unit}`,
    x: { label: "hours" },
    y: { label: curve.unit, grid: true },
    marks,
  });
  picture.setAttribute("role", "img"); // one picture with one name: its parts have none of their own
  for (const part of picture.querySelectorAll("[aria-label]")) part.removeAttribute("aria-label");
  place.replaceChildren(picture);
}
