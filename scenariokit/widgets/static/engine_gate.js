// The gate that charts wait at until the drawing code is there.

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

