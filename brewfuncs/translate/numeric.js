// exp, log and the like as numeric.py has them: where Python raises an error, there is no answer.

class NoAnswer extends Error {}

function finite(y, ...given) {
  if (Number.isFinite(y) || given.some((x) => !Number.isFinite(x))) return y;
  throw new NoAnswer();
}
function div(a, b) {
  if (Number(b) === 0) throw new NoAnswer();
  return a / b;
}
const pow = (a, b) => finite(Math.pow(a, b), a, b);
const exp = (x) => finite(Math.exp(x), x);
const expm1 = (x) => finite(Math.expm1(x), x);
const log = (x) => finite(Math.log(x), x);
const log10 = (x) => finite(Math.log10(x), x);
const log1p = (x) => finite(Math.log1p(x), x);
const sqrt = (x) => finite(Math.sqrt(x), x);
const tanh = Math.tanh, floor = Math.floor, abs = Math.abs;
const where = (condition, then, otherwise) => (condition ? then : otherwise);

/** Where an increasing function crosses 0; halves the interval. */
function bisect(f, low, high, steps) {
  for (let i = 0; i < steps; i++) {
    const middle = (low + high) / 2;
    if (f(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The state after so many steps. */
function repeated(times, step, state) {
  for (let n = 0; n < times; n++) state = step(n, ...state);
  return state;
}

const total = (count, element) => {
  let sum = 0;
  for (let i = 0; i < count; i++) sum += element(i);
  return sum;
};
const filled = (template, parts) => template.replace(/\{(\w+)\}/g, (_, name) => parts[name]);
