// Evaluates the vendored drawing libraries once per page and opens the gate that charts wait at.
// The libraries see a module system of their own, so the page's globals and loaders stay as they are.

const SOURCES = [
/*__SOURCES__*/
];

function evaluate() {
  const loaded = new Map();
  const need = (name) => {
    if (!loaded.has(name)) throw new Error(`${name} is not part of the drawing code`);
    return loaded.get(name);
  };
  for (const [name, run] of SOURCES) {
    const module = { exports: {} };
    run.call(undefined, module.exports, module, need, undefined);
    loaded.set(name, module.exports);
  }
  return { vega: loaded.get("vega"), vegaEmbed: loaded.get("vega-embed") };
}

function initialize() {
  const shared = gate();
  if (shared.started) return;
  shared.started = true;
  setTimeout(() => {
    try {
      shared.open(evaluate());
    } catch (error) {
      console.error("scenariokit: the drawing code could not be started", error);
      shared.refuse(error);
    }
  });
}

function render() {
  initialize();
}

export default { initialize, render };
