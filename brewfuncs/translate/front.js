// What stands between cells and kernels: it reads numbers, words, quantity text and ranges as cells.py and catalogue.py
// do, with the same sentences. Written by hand, driven by the declarations that javascript.py puts before it:
// VERSION, KERNELS (name -> function of numbers), CURVES (unit -> to base, from base), DIMENSIONS, SLIPS and FUNCTIONS.

/** An error value of a cell: `code` such as "#NUM!", and as its message the sentence that says why. */
class BrewError extends Error {
  constructor(code, sentence) {
    super(sentence);
    this.name = "BrewError";
    this.code = code;
  }
}
const VALUE = "#VALUE!", NUM = "#NUM!", NA = "#N/A";
const fail = (code, sentence) => { throw new BrewError(code, sentence); };
const own = (table, key) => (Object.prototype.hasOwnProperty.call(table, key) ? table[key] : undefined);

/** The answer, or the BrewError that was thrown on the way. */
function outcome(compute) {
  try {
    return compute();
  } catch (error) {
    if (error instanceof BrewError) return error;
    throw error;
  }
}

// -- numbers as Python writes them -----------------------------------------------------------------------------------

/** `%.6g`: six digits, exact halves to the even one. */
function sixDigits(x) {
  if (x === 0) return "0";
  if (!Number.isFinite(x)) return Number.isNaN(x) ? "nan" : x > 0 ? "inf" : "-inf";
  const tie = /^-?\d\.\d{4}[02468]50*e/.test(x.toExponential(60));
  const [mantissa, exponent] = (tie ? x * (1 - 1e-12) : x).toExponential(5).split("e").map(String), power = Number(exponent);
  const strip = (digits) => (digits.includes(".") ? digits.replace(/\.?0+$/, "") : digits);
  if (power < -4 || power >= 6) return `${strip(mantissa)}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  return strip(Number(`${mantissa}e${power}`).toFixed(5 - power));
}

/** `repr`: as many digits as tell it apart. */
function allDigits(x) {
  const [mantissa, exponent] = x.toExponential().split("e"), power = Number(exponent);
  if (power < -4 || power >= 16) return `${mantissa}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  return Number.isInteger(x) ? x.toFixed(1) : String(x);
}

const shown = (x, symbol) => `${sixDigits(x + 0)} ${symbol}`.trimEnd();

// -- units -----------------------------------------------------------------------------------------------------------

const LOOKALIKES = { "º": "°", "˚": "°", "μ": "µ", "\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " " };
const plainly = (text) => text.replace(/[º˚μ\u2212\u00a0\u202f\u2009]/g, (character) => LOOKALIKES[character]);
const SPACES = /[\s\x1c-\x1f\x85]+/g;
const NUMBER_THEN_UNIT = /^[ \t\n\r\f\v]*([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)[ \t\n\r\f\v]*([^]*)$/;
const IN_SO_MUCH = /^(\S.*?) (?:in|per) (?:([0-9]+(?:\.[0-9]*)?) ?)?([^0-9].*)$/s; // what a label says: "fl oz in 4 gal"
const FRACTION = /^(?:[0-9]*[ \t\n\r\f\v]*[/\u2044][ \t\n\r\f\v]*[0-9]|[\u00bc-\u00be\u2150-\u215e])/;

/** Quantity text as [number, unit symbol as written]. */
function parsed(text) {
  const match = NUMBER_THEN_UNIT.exec(plainly(text).trimEnd());
  if (!match) fail(VALUE, `"${text}" is not a number or a quantity such as 5.5 kg`);
  const unit = match[2];
  if (unit[0] === "," || /\d,\d/u.test(text)) fail(VALUE, `"${text}" has a comma: write a decimal point and no thousands separators, as in 1.5 kg`);
  if (FRACTION.test(unit)) fail(VALUE, `"${text}" has a fraction: write a decimal number, as in 1.5 oz`);
  const symbol = unit.replace(SPACES, " "), label = IN_SO_MUCH.exec(symbol);
  if (!label) return [Number(match[1]), symbol];
  const soMuch = Number(label[2] ?? 1);
  if (soMuch === 0) fail(VALUE, `"${text}" is an amount in nothing`);
  return [Number(match[1]) / soMuch, `${label[1]}/${label[3]}`];
}

const dimensionNamed = (name) => DIMENSIONS.find((dimension) => dimension.name === name);
function unitOf(dimension, symbol) {
  const at = own(dimension.spellings, symbol) ?? own(dimension.spellings, symbol.toLowerCase());
  return at === undefined ? undefined : dimension.units[at];
}
const dimensionOf = (...symbols) => DIMENSIONS.find((dimension) => dimension.listed && symbols.every((symbol) => unitOf(dimension, symbol)));
const toBase = (unit, x) => (own(CURVES, unit.symbol) ? CURVES[unit.symbol][0](x) : x * unit.factor + unit.offset);
const fromBase = (unit, x) => (own(CURVES, unit.symbol) ? CURVES[unit.symbol][1](x) : (x - unit.offset) / unit.factor);
const withArticle = (noun) => (["energy", "power", "carbonation", "bitterness"].includes(noun) ? noun : `a${"aeiou".includes(noun[0]) ? "n" : ""} ${noun}`);

function converted(dimension, x, from, to) {
  if (from === to) return x;
  const base = toBase(from, x);
  if (dimension.reach) {
    const [low, high, why] = dimension.reach;
    if (!(low <= base && base <= high)) fail(NUM, `${shown(x, from.symbol)} has no meaning: ${why}`);
  }
  return Number(fromBase(to, base).toPrecision(15)); // as units.py: the last digit is rounding
}

/** The number that quantity text stands for in a parameter's own unit. */
function numberOfQuantity(parameter, text) {
  const [x, symbol] = parsed(text);
  if (!symbol) return x;
  const dimension = DIMENSIONS[parameter.dimension], unit = unitOf(dimension, symbol);
  if (unit) return converted(dimension, x, unit, dimension.units[parameter.unit]);
  if (dimension.name === "temperature difference" && own(dimensionNamed("temperature").spellings, symbol) !== undefined) fail(VALUE, `"${text}" is a temperature; a temperature difference is written in K or Δ°F`);
  const other = dimensionOf(symbol), symbols = dimension.units.map((one) => one.symbol).filter(Boolean).join(", ");
  const slip = other && SLIPS.find(([given, wanted]) => given === other.name && wanted === dimension.name);
  if (slip) fail(VALUE, `"${text}" is ${withArticle(other.name)}: ${slip[2]}`);
  if (!other) fail(VALUE, `"${text}": "${symbol}" is not a unit known here; ${symbols ? `${dimension.name} is written in ${symbols}` : "a bare number is wanted"}`);
  return fail(VALUE, `"${text}" is ${withArticle(other.name)}, not ${symbols ? `${withArticle(dimension.name)} (${symbols})` : "a bare number"}`);
}

// -- one argument ----------------------------------------------------------------------------------------------------

const symbolOf = (parameter) => (parameter.dimension === undefined ? "" : DIMENSIONS[parameter.dimension].units[parameter.unit].symbol);
const inside = (parameter, x) => (parameter.above ? parameter.low < x : parameter.low <= x) && x <= parameter.high;
const HUGE = Number.MAX_VALUE;

/** The sentence for a number outside the limits. */
function refusal(parameter, x) {
  const { name, low, high, above } = parameter, symbol = symbolOf(parameter);
  if (Number.isNaN(x)) return `${name} is not a number (NaN)`;
  if (!Number.isFinite(x)) return `${name} is too large a number`;
  if (DIMENSIONS[parameter.dimension].name.startsWith("share") && x > Math.max(1, high) && high < 2) {
    return `${name} ${sixDigits(x)} is over 1: ${x > 100 ? "a share is written as 5.5 % or 0.055" : `write ${sixDigits(x)} % or ${sixDigits(x / 100)}`}`;
  }
  const said = inside(parameter, Number(sixDigits(x))) ? `${allDigits(x)} ${symbol}`.trimEnd() : shown(x, symbol); // what is wrong lies further right
  if (high === HUGE) return `${name} ${said} ${above ? `is not more than ${shown(low, symbol)}` : `is not ${shown(low, symbol)} or more`}`;
  return `${name} ${said} is outside ${sixDigits(low)} to ${shown(high, symbol)}${above ? ` (${shown(low, symbol)} excluded)` : ""}`;
}

/** The number a value stands for, before any range is looked at. */
function numberOf(parameter, value) {
  if (typeof value === "number") return value;
  if (typeof value === "boolean") return Number(value);
  if (typeof value !== "string") fail(VALUE, `${parameter.name} ${value} is not a number`);
  if (parameter.table) {
    const named = own(parameter.table, value.trim().toLowerCase());
    if (named !== undefined) return named;
    if (!/^\s*[-+.]?[0-9](?![0-9]*-[a-z])/i.test(value)) fail(NA, `${parameter.name} "${value}" is neither a number nor listed; one of: ${Object.keys(parameter.table).join(", ")}`);
  }
  try {
    return numberOfQuantity(parameter, value);
  } catch (error) {
    if (error instanceof BrewError) fail(error.code, `${parameter.name} ${error.message}`);
    throw error;
  }
}

/** Which of a parameter's words a value is; free text as it stands. */
function wordOf(parameter, value) {
  const { name, words } = parameter, listed = words && words.length < 16 ? `; one of: ${words.join(", ")}` : "";
  if (typeof value !== "string") {
    if (Number(value) === 0) return read(parameter, undefined); // a blank cell, as some hosts deliver it
    fail(NA, `${name} ${typeof value === "boolean" ? "True" : allDigits(value)} is a number where a name is wanted${listed}`);
  }
  if (!value.trim()) return read(parameter, undefined);
  if (!words) return value;
  const wanted = value.trim().toLowerCase(), meant = (own(parameter.also ?? {}, wanted) ?? wanted).toLowerCase();
  const at = words.findIndex((word) => word.toLowerCase() === meant);
  if (at < 0 && own(parameter.was ?? {}, wanted)) fail(NA, `${name} "${value}" is "${parameter.was[wanted]}" now`);
  return at < 0 ? fail(NA, `${name} "${value}" is not listed${listed}`) : at;
}

/** One value as the kernel wants it; undefined is an argument left out. */
function read(parameter, value) {
  if (value === undefined) return parameter.required ? fail(VALUE, `${parameter.name} is missing`) : parameter.initial;
  if (parameter.text) return wordOf(parameter, value);
  const x = numberOf(parameter, value);
  return inside(parameter, x) ? x : fail(NUM, refusal(parameter, x));
}

// -- whole ranges ----------------------------------------------------------------------------------------------------

const isBlank = (cell) => cell === undefined || cell === null || (typeof cell === "string" && !cell.trim());
const sizeOf = (rows) => [rows.length, rows.length ? rows[0].length : 0];

/** Whole ranges side by side: each as a list of numbers, rows blank on all sides left out. */
function readWholes(parameters, grids) {
  parameters.forEach((parameter, i) => grids[i] === undefined && fail(VALUE, `${parameter.name} is missing`));
  parameters.forEach((parameter, i) => grids[i].some((row) => row.length !== grids[i][0].length) && fail(VALUE, `${parameter.name} has rows of different length`));
  const sizes = grids.map(sizeOf), keys = sizes.map(String);
  const shapes = new Set(keys.filter((key, i) => !(parameters[i].whole === "one for all" && key === "1,1")));
  if (shapes.size > 1) fail(VALUE, `ranges of different size: ${parameters.map((parameter, i) => `${parameter.name} ${sizes[i][0]} x ${sizes[i][1]}`).join(", ")}`);
  const alone = keys.map((key, i) => !shapes.has(key) || (key === "1,1" && parameters[i].whole === "one for all"));
  const count = Math.max(...sizes.map(([height, width]) => height * width)), columns = grids.map((rows) => rows.flat());
  const out = parameters.map(() => []);
  for (let k = 0; k < count; k++) {
    const cells = columns.map((column, i) => (alone[i] ? column[0] : column[k])), blank = cells.map((cell, i) => isBlank(cell) && !alone[i]);
    if (blank.every((is, i) => is || alone[i]) && blank.some(Boolean)) continue;
    if (blank.some(Boolean)) fail(VALUE, `row ${k + 1} has ${parameters[blank.indexOf(false)].name} but no ${parameters[blank.indexOf(true)].name}`);
    parameters.forEach((parameter, i) => out[i].push(read(parameter, cells[i] === null ? undefined : cells[i])));
  }
  return out;
}

// -- one element -----------------------------------------------------------------------------------------------------

/** Whether the argument that makes a row count is 0 or blank. */
function isEmpty(parameter, value) {
  if (value === undefined) return false;
  if (typeof value === "string" && !value.trim()) return true;
  const x = outcome(() => numberOf(parameter, value));
  return x === 0;
}

/** The answer for one value a parameter (whole ranges as rows); throws BrewErrors. */
function compute(name, values) {
  const declared = FUNCTIONS[name], parameters = declared.parameters;
  if (declared.zeroWhen !== undefined && isEmpty(parameters[declared.zeroWhen], values[declared.zeroWhen])) return 0;
  const given = parameters.map((parameter, i) => (parameter.whole ? values[i] : read(parameter, values[i])));
  parameters.forEach((parameter, i) => { if (parameter.sameAs !== undefined && values[i] === undefined) given[i] = given[parameter.sameAs]; });
  const wholes = parameters.map((parameter, i) => (parameter.whole ? i : -1)).filter((i) => i >= 0);
  if (wholes.length) readWholes(wholes.map((i) => parameters[i]), wholes.map((i) => given[i])).forEach((column, n) => { given[wholes[n]] = column; });
  for (const [low, high, strict] of declared.relations || []) {
    if (strict ? given[low] < given[high] : given[low] <= given[high]) continue;
    const [one, other] = [low, high].map((i) => `${parameters[i].name} ${shown(given[i], symbolOf(parameters[i]))}`);
    fail(NUM, `${one} is ${strict ? "not below" : "above"} ${other}`);
  }
  let answer;
  try {
    answer = (own(KERNELS, name) || HAND[name])(...given);
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
    answer = NaN;
  }
  if (declared.text || Number.isFinite(answer)) return answer;
  return fail(NUM, `${name} has no answer for these values${declared.noAnswer ? `: ${declared.noAnswer}` : ""}`);
}

// -- functions that take free text: no kernel, but the declarations themselves ---------------------------------------

function found(name) {
  const capital = name.trim().toUpperCase();
  return own(FUNCTIONS, capital) ? capital : fail(NA, `there is no function "${name}"`);
}

const HAND = {
  UNIT_CONVERT(x, from, to) {
    const [one, other] = [from, to].map((text) => plainly(text).replace(SPACES, " ").trim()), dimension = dimensionOf(one, other);
    if (!dimension) {
      for (const name of [one, other]) if (!dimensionOf(name)) fail(VALUE, `"${name}" is not a unit known here`);
      fail(VALUE, `"${one}" is ${withArticle(dimensionOf(one).name)} and "${other}" ${withArticle(dimensionOf(other).name)}: no conversion`);
    }
    return converted(dimension, x, unitOf(dimension, one), unitOf(dimension, other));
  },
  BREW_SOURCE: (name) => FUNCTIONS[found(name)].source,
  BREW_REASON: () => fail(VALUE, "BREW_REASON speaks of whole calls"), // see reasons
};

/** BREW_REASON: the sentences of another function's answers, in their shape; errors given to it pass through. */
function reasons([name, ...rest]) {
  if (Array.isArray(name)) {
    const all = name.map((row) => row.map((cell) => reasons([cell, ...rest])));
    if (all.length === 1 && all[0].length === 1) return all[0][0];
    return all.flat().some(Array.isArray) ? new BrewError(VALUE, "function_name is a range and so are arguments: ask for one function at a time") : all;
  }
  if (name instanceof BrewError) return name;
  return outcome(() => {
    const parameter = FUNCTIONS.BREW_REASON.parameters[0], asked = found(read(parameter, asGiven(parameter, name)));
    const broken = rest.find((argument) => argument instanceof BrewError);
    if (broken) return broken;
    const answer = apply(asked, rest), sentence = (cell) => (cell instanceof BrewError ? cell.message : "");
    return Array.isArray(answer) ? answer.map((row) => row.map(sentence)) : sentence(answer);
  });
}

// -- cells -----------------------------------------------------------------------------------------------------------

const asGiven = (parameter, cell) => (cell === undefined || !isBlank(cell) ? cell : parameter.text ? undefined : 0);

/** The error an argument brings along: a single cell's, or one anywhere in a range that is taken whole. */
function firstError(parameters, values) {
  for (const [i, argument] of values.entries()) {
    if (argument instanceof BrewError) return argument;
    const within = Array.isArray(argument) && parameters[i]?.whole && argument.flat().find((cell) => cell instanceof BrewError);
    if (within) return within;
  }
  return undefined;
}

/**
 * A function called the way a sheet does. An argument is a cell or a list of rows of cells; a cell is a number, a text,
 * true or false, null for a blank one or a BrewError; undefined is an argument left out. Errors are returned.
 */
function apply(name, values) {
  const called = outcome(() => found(String(name)));
  if (called instanceof BrewError) return called;
  values = values.map((value) => (Array.isArray(value) ? value.map((row) => (Array.isArray(row) ? row : [row])) : value));
  if (called === "BREW_REASON") return reasons(values);
  const parameters = FUNCTIONS[called].parameters, broken = firstError(parameters, values);
  if (broken) return broken;
  if (values.length > parameters.length) return new BrewError(VALUE, `${called} takes at most ${parameters.length} arguments, not ${values.length}`);
  const lifted = [], given = parameters.map((parameter, i) => {
    let value = values[i];
    if (!parameter.whole) {
      if (Array.isArray(value)) lifted.push(i);
      return Array.isArray(value) ? value : asGiven(parameter, value);
    }
    if (value === undefined) return undefined;
    if (Array.isArray(value) && String(sizeOf(value)) === "1,1") value = value[0][0];
    return Array.isArray(value) ? value : [[isBlank(value) ? 0 : value]];
  });
  if (!lifted.length) return outcome(() => compute(called, given));
  const sizes = lifted.map((i) => sizeOf(given[i])), height = Math.max(...sizes.map((size) => size[0])), width = Math.max(...sizes.map((size) => size[1]));
  if (!height || !width || sizes.some(([h, w]) => (h !== 1 && h !== height) || (w !== 1 && w !== width))) {
    return new BrewError(VALUE, `ranges of different size: ${sizes.map((size) => size.join(" x ")).join(", ")}`);
  }
  const uneven = lifted.find((i) => given[i].some((row) => row.length !== given[i][0].length));
  if (uneven !== undefined) return new BrewError(VALUE, `${parameters[uneven].name} has rows of different length`);
  return Array.from({ length: height }, (_, r) => Array.from({ length: width }, (__, c) => {
    const one = given.slice();
    let problem;
    for (const i of lifted) {
      const rows = given[i], row = rows[rows.length === 1 ? 0 : r], cell = row[row.length === 1 ? 0 : c];
      if (cell instanceof BrewError) problem = problem || cell;
      one[i] = asGiven(parameters[i], cell);
    }
    return problem || outcome(() => compute(called, one));
  }));
}
