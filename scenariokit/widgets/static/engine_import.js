const KEY = Symbol.for("__ENGINE_KEY__");

function gate() {
  if (!globalThis[KEY]) {
    const made = { started: false };
    made.ready = new Promise((open, refuse) => Object.assign(made, { open, refuse }));
    made.ready.catch(() => {}); // each chart that waits reports the refusal itself
    globalThis[KEY] = made;
  }
  return globalThis[KEY];
}

// Not waited for: other widgets are made meanwhile.
function initialize() {
  fetched()
    .then((found) => found.default.initialize())
    .catch((error) => {
      console.error("scenariokit: the drawing code could not be fetched", error);
      gate().refuse(error);
    });
}

function render() {
  initialize();
}

export default { initialize, render };
