/* The sources as bars, in the look of the drawn figure: colours are the stylesheet's. */
const sourcesChart = (() => {
  "use strict";

  const NAMESPACE = document.getElementById("what-if-chart").namespaceURI;
  const SHOWN = 8;
  const TYPE = "12.5px"; // size of labels, as in the stylesheet
  const ruler = document.createElement("canvas").getContext("2d");

  function element(name, attributes, text) {
    const made = document.createElementNS(NAMESPACE, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  const length = (text) => ruler.measureText(text).width;
  const note = (source) => `${source.shareText}\u2003${source.note}`;

  /* At most so many lines; what is left over ends in an ellipsis. */
  function wrapped(text, room, most) {
    const lines = [""];
    for (const word of text.split(" ")) {
      const last = lines.length - 1;
      const longer = lines[last] ? `${lines[last]} ${word}` : word;
      if (length(longer) <= room || !lines[last]) lines[last] = longer;
      else lines.push(word);
    }
    const kept = lines.slice(0, most);
    if (lines.length > most) kept[most - 1] += " …";
    while (length(kept.at(-1)) > room && kept.at(-1).length > 4) kept[kept.length - 1] = `${kept.at(-1).slice(0, -3)}…`;
    return kept;
  }

  function ticks(reach) {
    const rough = reach / 5;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].find((factor) => factor * power >= rough) * power;
    const found = [];
    for (let place = 0; place <= reach * 1.0001; place += step) found.push(Number(place.toPrecision(6)));
    return found;
  }

  function hatch() {
    const pattern = element("pattern", { id: "what-if-hatch", width: 6, height: 6, patternUnits: "userSpaceOnUse" });
    pattern.append(element("path", { d: "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2", class: "chart-hatch" }));
    const defs = element("defs", {});
    defs.append(pattern);
    return defs;
  }

  function row(svg, source, place, size) {
    const { wide, left, width, reach } = size;
    const height = wide ? 42 : 56;
    const middle = place * height + (wide ? 20 : 36);
    const thickness = wide ? 22 : 18;
    const reached = ((100 * source.share) / reach) * width;
    wrapped(source.name, wide ? left - 12 : size.all, wide ? 2 : 1).forEach((line, i, lines) => {
      const shift = wide ? (i - (lines.length - 1) / 2) * 15 + 4 : 0;
      const y = wide ? middle + shift : middle - 15;
      svg.append(element("text", { x: wide ? left - 10 : 0, y, "text-anchor": wide ? "end" : "start" }, line));
    });
    const bar = { x: left, y: middle - thickness / 2, width: Math.max(reached, 0.5), height: thickness };
    svg.append(element("rect", { ...bar, class: source.scatter ? "chart-bar chart-scatter" : "chart-bar" }));
    svg.append(element("text", { x: left + reached + 8, y: middle + 4 }, note(source)));
  }

  function axis(svg, size, y, title) {
    svg.append(element("path", { d: `M${size.left},${y} h${size.width}`, class: "chart-axis" }));
    for (const tick of ticks(size.reach)) {
      const x = size.left + (tick / size.reach) * size.width;
      svg.append(element("path", { d: `M${x},${y} v4`, class: "chart-axis" }));
      svg.append(element("text", { x, y: y + 17, "text-anchor": x < 8 ? "start" : "middle", class: "chart-tick" }, String(tick)));
    }
    svg.append(element("text", { x: size.all, y: y + 35, "text-anchor": "end", class: "chart-tick" }, title));
  }

  /* Draw; sources are ranked and have {name, share, shareText, note, scatter}. */
  function draw(svg, ranked, title) {
    const all = Math.max(svg.parentElement.clientWidth, 240);
    const wide = all >= 560;
    const shown = ranked.filter((source) => source.share > 0).slice(0, SHOWN);
    const left = wide ? Math.round(0.38 * all) : 1;
    const reach = Math.max(...shown.map((source) => 100 * source.share), 0.01);
    ruler.font = `${TYPE} ${window.getComputedStyle(svg.parentElement.querySelector("figcaption")).fontFamily}`;
    const behind = Math.max(...shown.map((source) => length(note(source))), 0) + 12;
    const size = { all, wide, left, reach, width: Math.max(all - left - behind, 40) };
    const bottom = shown.length * (wide ? 42 : 56) + 6;
    svg.setAttribute("viewBox", `0 0 ${all} ${bottom + 40}`);
    svg.replaceChildren(hatch());
    shown.forEach((source, place) => row(svg, source, place, size));
    axis(svg, size, bottom, title);
    return shown;
  }

  return { draw };
})();
