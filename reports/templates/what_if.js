/* The section in which a reader changes the setting: dials, figures, limits and chart from one model. */
(() => {
  "use strict";

  const PAUSE = 700; // from the last change to its announcement, in milliseconds
  const NOTHING = 1e-12; // relative to the true value: what is left where errors cancel is rounding
  const THIN = "\u202f";
  const MINUS = "\u2212";
  const data = JSON.parse(document.getElementById("what-if-data").textContent);
  const { words } = data;
  const model = equations.read(data.model);
  const at = (id) => document.getElementById(id);
  const fill = (form, values) => form.replace(/\{(\w+)\}/g, (whole, key) => values[key] ?? whole);
  const state = new Map(data.dials.map((dial) => [dial.symbol, dial.value]));
  const follow = at("what-if-follow");
  let timer = 0;
  let ranked = [];
  let width = 0;

  /* Numbers as people write them. */

  /* Half up, on the digits that a number is written with, as the program rounds. */

  function rounded(value, exponent) {
    const [mantissa, power] = String(Math.abs(value)).split("e");
    const whole = Math.round(Number(`${mantissa}e${Number(power || 0) - exponent}`));
    return Math.sign(value) * Number(`${whole}e${exponent}`);
  }

  const leading = (value) => Number(value.toExponential().split("e")[1]);

  function toDigits(value, digits) {
    const once = rounded(value, leading(value) - digits + 1);
    return rounded(once, leading(once) - digits + 1);
  }

  function marked(text) {
    const [whole, rest] = text.replace("-", "").split(".");
    const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
    const sign = text.startsWith("-") && /[1-9]/.test(text) ? MINUS : "";
    return sign + grouped + (rest === undefined ? "" : data.decimal_mark + rest);
  }

  function significant(value, digits) {
    if (value === 0 || !Number.isFinite(value)) return value === 0 ? "0" : "–";
    const shown = toDigits(value, digits);
    const [mantissa, exponent] = shown.toExponential().split("e");
    if (Number(exponent) < -5 || Number(exponent) >= 7) {
      const raised = String(Number(exponent)).replace(/./g, (sign) => "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"["-0123456789".indexOf(sign)]);
      return `${marked(String(Number(mantissa)))}${THIN}×${THIN}10${raised}`;
    }
    const places = Math.max(digits - 1 - Number(exponent), 0);
    const text = shown.toFixed(places);
    return marked(text.includes(".") ? text.replace(/\.?0+$/, "") : text);
  }

  const unit = (text, of) => (of ? `${text}${THIN}${of}` : text);
  const written = (value, { factor, unit: of, digits }) => unit(significant(value * factor, digits), of);

  function percent(value) {
    if (!Number.isFinite(value)) return "–";
    const size = Math.abs(value);
    const decimals = size < 0.995 ? 2 : size < 99.95 ? 1 : 0;
    return size === 0 ? unit("0", "%") : unit(marked(rounded(value, -decimals).toFixed(decimals)), "%");
  }

  function signed(value) {
    const text = percent(value);
    return value > 0 && /[1-9]/.test(text) ? `+${text}` : text;
  }

  function together(value, spread) {
    if (!(spread > 0)) return unit(significant(value, 6), "kJ/kg");
    const exponent = leading(toDigits(spread, 2)) - 1;
    const [one, other] = [value, spread].map((number) =>
      unit(marked(rounded(number, exponent).toFixed(Math.max(-exponent, 0))), "kJ/kg"));
    return `${one} (u = ${other})`;
  }

  /* From the dials to the figures. */

  function replaced() {
    const constants = new Map(state);
    for (const { symbol, follower, value } of data.dials) {
      if (follower) constants.set(follower, !follow || follow.checked ? state.get(symbol) : value);
    }
    return constants;
  }

  const settled = (part) => (Math.abs(part) < NOTHING ? 0 : part);

  function worked() {
    const found = equations.propagate(model, replaced());
    const value = (symbol) => found.values.get(symbol).value;
    const reference = value(data.reference);
    const boils = data.steam.every((symbol) => value(symbol) > 1) && Number.isFinite(found.estimate);
    const bias = settled(found.estimate / reference - 1);
    const spread = found.uncertainty / reference;
    const moves = equations.walk(model, found.point);
    const sources = model.inputs.filter((input) => input.neutral !== null).map((input) => ({
      name: input.name,
      symbol: input.symbol,
      scatter: input.scatter,
      share: found.shares.get(input.symbol) ?? 0,
      contribution: settled(Math.abs(found.contributions.get(input.symbol) ?? 0) / reference),
      bias: settled(moves.get(input.symbol) / reference),
    })).filter((source) => source.contribution !== 0 || source.bias !== 0);
    sources.sort((a, b) => b.share - a.share || Math.abs(b.bias) - Math.abs(a.bias) || (a.symbol < b.symbol ? -1 : 1));
    const limits = data.limits.map((limit) => {
      const [reached, bound] = [value(limit.value), value(limit.bound)];
      const excess = limit.at_least ? bound - reached : reached - bound;
      return { ...limit, reached, limit: bound, kept: excess <= data.tolerance * Math.abs(bound) };
    });
    return { estimate: found.estimate, uncertainty: found.uncertainty, bias, spread, boils, sources, limits, value };
  }

  /* Into the page. */

  function put(cell, value, text) {
    const figure = document.createElement("data");
    figure.value = String(value);
    figure.textContent = text;
    cell.replaceChildren(figure);
  }

  function texts(found) {
    if (!found.boils) return { expected: "–", bias: "–", uncertainty: "–", rms: "–" };
    return {
      expected: together(found.estimate / 1000, found.uncertainty / 1000),
      bias: signed(100 * found.bias),
      uncertainty: percent(100 * found.spread),
      rms: percent(100 * Math.hypot(found.bias, found.spread)),
    };
  }

  function showResult(found, said) {
    const cells = at("what-if-result").querySelectorAll("td[data-live]");
    put(cells[0], found.estimate, said.expected);
    put(cells[1], found.bias, said.bias);
    put(cells[2], found.spread, said.uncertainty);
    put(cells[3], Math.hypot(found.bias, found.spread), said.rms);
    data.follows.forEach((one, i) => {
      put(cells[4 + i], found.value(one.symbol), found.boils ? written(found.value(one.symbol), one) : "–");
    });
    const line = found.boils ? fill(words.line, said) : words.no_boiling;
    at("what-if-line").textContent = line;
  }

  function showLimits(found) {
    at("what-if-limits").querySelectorAll("tbody tr").forEach((row, i) => {
      const limit = found.limits[i];
      const form = limit.at_least ? words.at_least : words.at_most;
      row.cells[1].textContent = fill(form, { bound: written(limit.limit, limit) });
      put(row.cells[3], limit.reached, written(limit.reached, limit));
      row.cells[4].textContent = limit.kept ? words.kept : words.broken;
      row.classList.toggle("broken", !limit.kept);
    });
  }

  function note(bias) {
    if (Math.abs(bias) < 5e-5) return words.no_bias;
    return fill(bias > 0 ? words.too_high : words.too_low, { bias: signed(100 * bias) });
  }

  const share = (part) => unit(significant(100 * part, 2), "%");

  function showSources(found) {
    ranked = found.boils ? found.sources.map((source) => ({
      ...source, shareText: share(source.share), note: note(source.bias),
    })) : [];
    draw();
    const rows = ranked.map((source) => {
      const row = document.createElement("tr");
      const name = document.createElement("th");
      name.scope = "row";
      name.textContent = source.name;
      row.append(name);
      const figures = [
        [source.share, share(source.share)],
        [source.contribution, percent(100 * source.contribution)],
        [source.bias, signed(100 * source.bias)],
      ];
      for (const [value, text] of figures) {
        const cell = row.insertCell();
        cell.className = "number";
        put(cell, value, text);
      }
      row.dataset.symbol = source.symbol;
      return row;
    });
    at("what-if-sources").tBodies[0].replaceChildren(...rows);
  }

  function draw() {
    const svg = at("what-if-chart");
    at("what-if-figure").hidden = ranked.length === 0;
    at("what-if-numbers").hidden = ranked.length === 0;
    if (ranked.length === 0) return;
    const shown = sourcesChart.draw(svg, ranked, words.axis);
    const parts = shown.slice(0, 5).map((one) => fill(words.alt_part, { source: one.name, share: one.shareText }));
    svg.setAttribute("aria-label", fill(words.alt, { parts: parts.join("; ") }));
  }

  function resized() {
    const now = at("what-if-section").clientWidth;
    if (now === width) return;
    width = now;
    window.requestAnimationFrame(draw);
  }

  function announce(found, said, before) {
    const broken = found.limits.filter((limit) => !limit.kept).map((limit) => limit.label);
    const limits = broken.length ? fill(words.said_broken, { limits: broken.join("; ") }) : words.said_kept;
    const result = found.boils ? fill(words.said, said) : words.no_boiling;
    window.clearTimeout(timer);
    timer = window.setTimeout(() => {
      at("what-if-said").textContent = [before, result, limits].filter(Boolean).join(" ");
    }, PAUSE);
  }

  function update(before, silent) {
    const found = worked();
    const said = texts(found);
    showResult(found, said);
    showLimits(found);
    showSources(found);
    if (!silent) announce(found, said, before);
  }

  /* Dials. */

  const shownNumber = (dial, value) => Number((value * dial.factor).toPrecision(Math.max(dial.digits, 4)));

  function place(dial, value) {
    if (dial.steps !== "ratio") return value * dial.factor;
    return (100 * Math.log(value / dial.low)) / Math.log(dial.high / dial.low);
  }

  function fromSlider(dial, position) {
    const value = dial.steps === "ratio" ? dial.low * (dial.high / dial.low) ** (position / 100) : position / dial.factor;
    return Math.min(Math.max(shownNumber(dial, value) / dial.factor, dial.low), dial.high);
  }

  function turn(dial) {
    const value = state.get(dial.symbol);
    const slider = at(`dial-${dial.symbol}`);
    slider.value = String(place(dial, value));
    slider.setAttribute("aria-valuetext", written(value, dial));
    const below = at(`note-${dial.symbol}`);
    if (below && dial.note.includes("{per_kwh}")) below.textContent = fill(dial.note, { per_kwh: significant(3.6e6 / value, 4) });
  }

  function fault(dial, form) {
    const message = at(`fault-${dial.symbol}`);
    const ends = { label: dial.name, low: written(dial.low, dial), high: written(dial.high, dial) };
    message.hidden = form === "";
    message.textContent = form ? fill(form, ends) : "";
    at(`box-${dial.symbol}`).setAttribute("aria-invalid", form ? "true" : "false");
  }

  function typed(dial) {
    const box = at(`box-${dial.symbol}`);
    const number = box.value.trim() === "" ? NaN : Number(box.value);
    const value = number / dial.factor;
    const slack = 1e-9 * Math.abs(dial.high);
    const inside = value >= dial.low - slack && value <= dial.high + slack;
    const fits = inside && (dial.steps !== "whole" || Number.isInteger(number));
    if (!fits) {
      fault(dial, dial.steps === "whole" ? words.whole : words.out_of_range);
      return;
    }
    fault(dial, "");
    state.set(dial.symbol, value);
    turn(dial);
    update();
  }

  function back() {
    for (const dial of data.dials) {
      state.set(dial.symbol, dial.value);
      at(`box-${dial.symbol}`).value = String(shownNumber(dial, dial.value));
      fault(dial, "");
      turn(dial);
    }
    if (follow) follow.checked = true;
  }

  function start() {
    for (const dial of data.dials) {
      at(`dial-${dial.symbol}`).addEventListener("input", (event) => {
        const value = fromSlider(dial, Number(event.target.value));
        state.set(dial.symbol, value);
        at(`box-${dial.symbol}`).value = String(shownNumber(dial, value));
        fault(dial, "");
        turn(dial);
        update();
      });
      at(`box-${dial.symbol}`).addEventListener("input", () => typed(dial));
    }
    if (follow) follow.addEventListener("change", () => update());
    at("what-if-back").addEventListener("click", () => {
      back();
      update(words.said_back);
    });
    document.querySelectorAll("#what-if-section [data-live]").forEach((cell) => { cell.hidden = false; });
    at("what-if-limits").classList.add("live");
    document.querySelector(".what-if-off").hidden = true;
    for (const id of ["what-if-dials", "what-if-figure", "what-if-numbers"]) at(id).hidden = false;
    back();
    update("", true);
    new ResizeObserver(resized).observe(at("what-if-section"));
  }

  start();
})();
