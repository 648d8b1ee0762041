/* Equations as text: read by the grammar of the measurement model, evaluated together with their derivatives. */
const equations = (() => {
  "use strict";

  const ARGUMENTS = {
    sqrt: [1, 1], exp: [1, 1], log: [1, 1], log10: [1, 1], sin: [1, 1], cos: [1, 1], tan: [1, 1], asin: [1, 1],
    acos: [1, 1], atan: [1, 1], abs: [1, 1], floor: [1, 1], ceil: [1, 1], round: [1, 1], atan2: [2, 2],
    min: [1, 100], max: [1, 100],
  };
  const TOKEN = new RegExp(
    "\\s*(?:(0[xX](?:_?[\\da-fA-F])+|0[oO](?:_?[0-7])+|0[bB](?:_?[01])+" +
    "|(?:\\d(?:_?\\d)*\\.?(?:\\d(?:_?\\d)*)?|\\.\\d(?:_?\\d)*)(?:[eE][+-]?\\d(?:_?\\d)*)?)" +
    "|([\\p{XID_Start}_]\\p{XID_Continue}*)|(\\*\\*|[-+*/(),]))", "uy");
  const STEPS = new Set(["floor", "ceil", "round"]);

  /* Reading: operands first, each operation behind its operands. */

  function tokens(text) {
    const found = [];
    TOKEN.lastIndex = 0;
    const body = text.trimEnd();
    while (TOKEN.lastIndex < body.length) {
      const start = TOKEN.lastIndex;
      const match = TOKEN.exec(body);
      if (!match) throw new SyntaxError(`equation: nothing can be read at ${body.slice(start, start + 20)}`);
      if (match[1] !== undefined) found.push({ kind: "number", value: Number(match[1].replaceAll("_", "")) });
      else if (match[2] !== undefined) found.push({ kind: "name", value: match[2].normalize("NFKC") });
      else found.push({ kind: match[3] });
    }
    return found;
  }

  function compile(text) {
    const queue = tokens(text);
    const code = [];
    let place = 0;
    const kind = () => (place < queue.length ? queue[place].kind : "end");
    const expect = (wanted) => {
      if (kind() !== wanted) throw new SyntaxError(`equation: ${wanted} expected, ${kind()} found in ${text}`);
      place += 1;
    };

    function chain(signs, part) {
      part();
      while (signs.includes(kind())) {
        const sign = queue[place].kind;
        place += 1;
        part();
        code.push({ name: sign, count: 2 });
      }
    }
    const sum = () => chain(["+", "-"], product);
    const product = () => chain(["*", "/"], unary);
    function unary() {
      if (kind() !== "+" && kind() !== "-") return power();
      const negative = kind() === "-";
      place += 1;
      unary();
      if (negative) code.push({ name: "negative", count: 1 });
    }
    function power() {
      primary();
      if (kind() !== "**") return;
      place += 1;
      unary();
      code.push({ name: "**", count: 2 });
    }
    function primary() {
      const token = queue[place];
      if (kind() === "number") {
        place += 1;
        code.push({ name: "number", count: 0, value: token.value });
      } else if (kind() === "name") {
        place += 1;
        named(token.value);
      } else {
        expect("(");
        sum();
        expect(")");
      }
    }
    function named(name) {
      const range = Object.hasOwn(ARGUMENTS, name) ? ARGUMENTS[name] : null;
      if (kind() !== "(") {
        if (range) throw new SyntaxError(`equation: ${name} needs its argument in brackets`);
        code.push(name === "pi" ? { name: "number", count: 0, value: Math.PI } : { name: "symbol", count: 0, value: name });
        return;
      }
      if (!range) throw new SyntaxError(`equation: ${name} is no function of equations`);
      let count = 0;
      place += 1;
      while (kind() !== ")") {
        sum();
        count += 1;
        if (kind() !== ")") expect(",");
      }
      place += 1;
      if (count < range[0] || count > range[1]) throw new SyntaxError(`equation: ${name} has ${count} arguments`);
      code.push({ name, count });
    }

    sum();
    expect("end");
    return code;
  }

  /* Values with derivatives: {value, slope}; no slope where nothing uncertain is behind the value. */

  const constant = (value) => ({ value, slope: null });

  function linear(value, parts) {
    const moving = parts.filter(([, operand]) => operand.slope);
    if (moving.length === 0) return constant(value);
    const slope = new Float64Array(moving[0][1].slope.length);
    for (const [factor, operand] of moving) {
      for (let i = 0; i < slope.length; i += 1) slope[i] += factor * operand.slope[i];
    }
    return { value, slope };
  }

  function power(base, exponent) {
    if (base === 1) return 1;
    if (base === -1 && Math.abs(exponent) === Infinity) return 1;
    return base ** exponent;
  }

  function raised(a, b) {
    const value = power(a.value, b.value);
    if (!b.slope || b.slope.every((part) => part === 0)) {
      const factor = b.value === 0 ? 0 : b.value * power(a.value, b.value - 1);
      return linear(value, [[factor, a]]);
    }
    const logarithm = a.value > 0 ? Math.log(a.value) : NaN;
    return linear(value, [[(value * b.value) / a.value, a], [value * logarithm, b]]);
  }

  function chosen(a, b, first) {
    const taken = first ? a : b;
    const value = Number.isNaN(a.value) || Number.isNaN(b.value) ? NaN : taken.value;
    if (a.value !== b.value || (!a.slope && !b.slope)) return { value, slope: taken.slope };
    const size = (a.slope || b.slope).length;
    const one = a.slope || new Float64Array(size);
    const other = b.slope || new Float64Array(size);
    return { value, slope: one.map((part, i) => (part === other[i] ? part : NaN)) };  // a kink has no derivative
  }

  function absolute(a) {
    if (a.value === 0 && a.slope) return { value: 0, slope: a.slope.map((part) => (part === 0 ? 0 : NaN)) };
    return linear(Math.abs(a.value), [[Math.sign(a.value), a]]);
  }

  function toEven(value) {
    const low = Math.floor(value);
    const rest = value - low;
    if (rest !== 0.5) return rest < 0.5 ? low : low + 1;
    return low % 2 === 0 ? low : low + 1;
  }

  const of = (value, slope) => (a) => linear(value(a.value), [[slope(a.value), a]]);
  const RULES = {
    "+": (a, b) => linear(a.value + b.value, [[1, a], [1, b]]),
    "-": (a, b) => linear(a.value - b.value, [[1, a], [-1, b]]),
    "*": (a, b) => linear(a.value * b.value, [[b.value, a], [a.value, b]]),
    "/": (a, b) => linear(a.value / b.value, [[1 / b.value, a], [-a.value / b.value / b.value, b]]),
    "**": raised,
    negative: (a) => linear(-a.value, [[-1, a]]),
    sqrt: of(Math.sqrt, (x) => 0.5 / Math.sqrt(x)),
    exp: of(Math.exp, Math.exp),
    log: of(Math.log, (x) => (x > 0 ? 1 / x : NaN)),
    log10: of(Math.log10, (x) => (x > 0 ? 1 / (x * Math.LN10) : NaN)),
    sin: of(Math.sin, Math.cos),
    cos: of(Math.cos, (x) => -Math.sin(x)),
    tan: of(Math.tan, (x) => 1 + Math.tan(x) ** 2),
    asin: of(Math.asin, (x) => 1 / Math.sqrt(1 - x * x)),
    acos: of(Math.acos, (x) => -1 / Math.sqrt(1 - x * x)),
    atan: of(Math.atan, (x) => 1 / (1 + x * x)),
    atan2: (y, x) => {
      const square = x.value * x.value + y.value * y.value;
      return linear(Math.atan2(y.value, x.value), [[x.value / square, y], [-y.value / square, x]]);
    },
    abs: absolute,
    floor: (a) => constant(Math.floor(a.value)),
    ceil: (a) => constant(Math.ceil(a.value)),
    round: (a) => constant(toEven(a.value)),
    min: (...all) => all.reduce((a, b) => chosen(a, b, a.value < b.value)),
    max: (...all) => all.reduce((a, b) => chosen(a, b, a.value > b.value)),
  };

  function run(code, symbols) {
    const stack = [];
    for (const { name, count, value } of code) {
      if (name === "number") stack.push(constant(value));
      else if (name === "symbol") {
        if (!symbols.has(value)) throw new ReferenceError(`equation: ${value} has no value`);
        stack.push(symbols.get(value));
      } else stack.push(RULES[name](...stack.splice(stack.length - count, count)));
    }
    return stack[0];
  }

  /* A model: named steps, then the equation; {inputs: [{symbol, estimate, uncertainty}], intermediates, equation}. */

  function read(model) {
    const steps = model.intermediates.map(([symbol, text]) => [symbol, compile(text)]);
    const uncertain = model.inputs.filter((input) => input.uncertainty > 0).map((input) => input.symbol);
    steps.push([model.symbol, compile(model.equation)]);
    return { ...model, steps, uncertain, stepped: stepped(steps) };
  }

  /* Inputs that go through a step (whole counts): their derivative says nothing, a difference does. */
  function stepped(steps) {
    const reach = new Map();
    const found = new Set();
    for (const [symbol, code] of steps) {
      const stack = [];
      for (const { name, count, value } of code) {
        if (name === "symbol") stack.push(reach.get(value) || new Set([value]));
        else {
          const below = new Set(stack.splice(stack.length - count, count).flatMap((part) => [...part]));
          if (STEPS.has(name)) below.forEach((input) => found.add(input));
          stack.push(below);
        }
      }
      reach.set(symbol, stack[0]);
    }
    return found;
  }

  function estimates(model, replaced) {
    return new Map(model.inputs.map(({ symbol, estimate }) => [symbol, replaced.get(symbol) ?? estimate]));
  }

  /* Value of every step at a point, by symbol, with derivatives to the inputs that vary. */
  function evaluate(model, point, varying = []) {
    const symbols = new Map();
    for (const [symbol, value] of point) symbols.set(symbol, constant(value));
    varying.forEach((symbol, place) => {
      const slope = new Float64Array(varying.length);
      slope[place] = 1;
      symbols.set(symbol, { value: point.get(symbol), slope });
    });
    for (const [symbol, code] of model.steps) symbols.set(symbol, run(code, symbols));
    return symbols;
  }

  const valueAt = (model, point) => evaluate(model, point).get(model.symbol).value;

  function difference(model, point, symbol, uncertainty) {
    const centre = point.get(symbol);
    const ends = [centre + uncertainty, centre - uncertainty];
    const [high, low] = ends.map((end) => valueAt(model, new Map(point).set(symbol, end)));
    return (high - low) / (2 * uncertainty);
  }

  /* First order: u^2 = sum of c_i u_i r_ij c_j u_j (JCGM 100:2008, 5.1.2 and 5.2.2). */
  function propagate(model, replaced = new Map()) {
    const point = estimates(model, replaced);
    const values = evaluate(model, point, model.uncertain);
    const found = values.get(model.symbol);
    const spread = new Map(model.inputs.map(({ symbol, uncertainty }) => [symbol, uncertainty]));
    const contributions = new Map();
    model.uncertain.forEach((symbol, place) => {
      const exact = found.slope ? found.slope[place] : 0;
      const usable = Number.isFinite(exact) && !model.stepped.has(symbol);
      const slope = usable ? exact : difference(model, point, symbol, spread.get(symbol));
      contributions.set(symbol, slope * spread.get(symbol));
    });
    const covered = new Map([...contributions].map(([symbol, part]) => [symbol, part * part]));
    for (const [one, other, coefficient] of model.correlations) {
      const product = coefficient * (contributions.get(one) ?? 0) * (contributions.get(other) ?? 0);
      for (const symbol of [one, other]) if (covered.has(symbol)) covered.set(symbol, covered.get(symbol) + product);
    }
    const variance = Math.max([...covered.values()].reduce((total, part) => total + part, 0), 0);
    const shares = new Map([...covered].map(([symbol, part]) => [symbol, variance > 0 ? part / variance : 0]));
    return { point, values, estimate: found.value, uncertainty: Math.sqrt(variance), contributions, shares };
  }

  /* Steps from the true value to the expected one, one source after the other, with what corrects for it. */
  function walk(model, point) {
    const sources = model.inputs.filter((input) => input.neutral !== null);
    const values = new Map(point);
    const both = (symbol) => [symbol, model.partners[symbol]].filter((one) => one !== undefined);
    for (const { symbol, neutral } of sources) both(symbol).forEach((one) => values.set(one, neutral));
    let reached = valueAt(model, values);
    const moves = new Map();
    for (const { symbol } of sources) {
      both(symbol).forEach((one) => values.set(one, point.get(one)));
      const next = valueAt(model, values);
      moves.set(symbol, next - reached);
      reached = next;
    }
    return moves;
  }

  return { compile, read, evaluate, propagate, walk };
})();
