// What a page may want to know of a function, for a form or a list.
const functions = Object.fromEntries(Object.entries(FUNCTIONS).map(([name, { parameters, unit, source }]) => [name, {
  parameters: parameters.map((parameter) => {
    const { name: of, required, words, low, high } = parameter;
    return { name: of, unit: symbolOf(parameter), required: Boolean(required), words, low, high };
  }),
  unit,
  source,
}]));
const version = VERSION;
export { BrewError, apply, functions, version };
