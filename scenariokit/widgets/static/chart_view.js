// One chart: drawn once, then given new rows and parameter values without being drawn anew.

const ENGINE_WAIT_MS = 120000; // a slow line needs its time
const MARKED = "marked";
// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;

// -- the shared drawing code ----------------------------------------------------------

function gate(key) {
  const name = Symbol.for(key);
  if (!globalThis[name]) {
    const made = { started: false };
    made.ready = new Promise((open, refuse) => Object.assign(made, { open, refuse }));
    made.ready.catch(() => {});
    globalThis[name] = made;
  }
  return globalThis[name];
}

function engine(key, tooLate) {
  let timer;
  const late = new Promise((_, refuse) => {
    timer = setTimeout(() => refuse(new Error(tooLate)), ENGINE_WAIT_MS);
  });
  return Promise.race([gate(key).ready, late]).finally(() => clearTimeout(timer));
}

// All charts that change in one frame are measured once all of them are changed: a measurement
// between two changes has the browser lay the whole page out again. To draw a chart anew takes
// longer than a frame: one after the other, so that the first is seen before the last is drawn.
const FRAMES = Symbol.for("scenariokit.frames.1");
globalThis[FRAMES] ??= { changes: [], drawings: [], asked: false };

function inAFrame(work, anew) {
  const shared = globalThis[FRAMES];
  (anew ? shared.drawings : shared.changes).push(work);
  askForFrame();
}

function askForFrame() {
  const shared = globalThis[FRAMES];
  if (shared.asked || !(shared.changes.length + shared.drawings.length)) return;
  shared.asked = true;
  requestAnimationFrame(async () => {
    shared.asked = false;
    const all = [...shared.changes, ...shared.drawings.splice(0, 1)];
    shared.changes = [];
    const measures = await Promise.all(all.map((one) => one()));
    for (const measure of measures) measure?.();
    askForFrame();
  });
}

// Charts bring their rows along: nothing is ever fetched, from anywhere.
const refuse = (uri) => Promise.reject(new Error(`charts load nothing, so not ${uri}`));
const loader = {
  load: refuse, http: refuse, file: refuse,
  sanitize: (uri) => (/^data:image\//.test(uri) ? Promise.resolve({ href: uri }) : refuse(uri)),
};

// -- the specification ---------------------------------------------------------------

function isSingle(spec) {
  return !["hconcat", "vconcat", "concat", "facet", "repeat"].some((key) => key in spec)
    && !["row", "column", "facet"].some((key) => key in (spec.encoding ?? {}));
}

function prepared(model, width) {
  const spec = structuredClone(model.get("spec"));
  delete spec.$schema; // an address; the mode is given instead
  spec.datasets = { ...spec.datasets, ...structuredClone(model.get("datasets")) };
  const values = { ...model.get("signals"), [MARKED]: model.get("selected") };
  for (const param of spec.params ?? []) {
    if (param.name in values) param.value = structuredClone(values[param.name]);
  }
  if (isSingle(spec)) {
    spec.width = width;
    const fixed = typeof spec.height === "number" && model.get("aspect") === null;
    spec.autosize = { type: fixed ? "fit" : "fit-x", contains: "padding", resize: true };
    if (model.get("aspect") !== null) spec.height = Math.round(width * model.get("aspect"));
  }
  return spec;
}

// What is written, even if it is what stood there, has the page laid out again at the next measurement.
function put(one, name, value) {
  if (one.getAttribute(name) !== value) one.setAttribute(name, value);
}

// Words that do not fit a narrow page are not cut: the plot then scrolls in a frame of its own.
function widen(svg) {
  const drawn = svg.getAttribute("viewBox").split(" ").map(Number);
  const [, top, width, height] = svg.sk?.join() === drawn.join() ? svg.skBefore : drawn;
  const origin = svg.getBoundingClientRect().left - drawn[0];
  const shown = [...svg.querySelectorAll("text")].filter((one) => one.textContent && one.getAttribute("opacity") !== "0");
  const spans = shown.map((one) => one.getBoundingClientRect());
  const left = Math.min(0, ...spans.map((one) => Math.floor(one.left - origin)));
  const right = Math.max(width, ...spans.map((one) => Math.ceil(one.right - origin)));
  svg.skBefore = [0, top, width, height];
  svg.sk = [left, top, right - left, height];
  put(svg, "viewBox", svg.sk.join(" "));
  put(svg, "width", String(right - left));
}

// -- the parts on the page -----------------------------------------------------------

function element(tag, className, text = "") {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

function skeleton() {
  const id = `sk-chart-${own}-${(serial += 1)}`;
  const figure = element("figure", "sk-figure");
  const heading = element("figcaption", "sk-figure-heading");
  const plot = element("div", "sk-plot");
  const problem = element("p", "sk-problem");
  problem.setAttribute("role", "alert");
  problem.hidden = true;
  const pictures = element("p", "sk-pictures");
  const twin = element("details", "sk-twin");
  const opener = element("summary");
  twin.append(opener);
  const frame = element("div", "sk-twin-frame");
  frame.tabIndex = 0;
  frame.setAttribute("role", "region");
  twin.append(frame);
  heading.id = id;
  figure.append(heading, plot, problem, pictures, twin);
  return { figure, heading, plot, problem, pictures, twin, opener, frame };
}

function table(columns, rows, caption) {
  const made = element("table");
  made.append(element("caption", "sk-unseen", caption));
  const head = made.createTHead().insertRow();
  for (const column of columns) {
    const cell = element("th", "", column);
    cell.scope = "col";
    head.append(cell);
  }
  const body = made.createTBody();
  for (const row of rows) {
    const line = body.insertRow();
    row.forEach((text, index) => {
      const cell = element(index === 0 ? "th" : "td", "", text);
      if (index === 0) cell.scope = "row";
      line.append(cell);
    });
  }
  return made;
}

function download(url, filename) {
  const link = element("a");
  link.href = url;
  link.download = filename;
  link.click();
}

// -- the widget ----------------------------------------------------------------------

function render({ model, el }) {
  const parts = skeleton();
  const { figure, plot } = parts;
  el.classList.add("sk-chart");
  el.append(figure);

  let drawn = null; // { view, finalize, single, signals, sent } of the chart on the page
  let asked = false; // for the next frame
  let busy = false;
  let again = false;
  let stale = true; // the specification changed: draw anew
  let room = null; // how wide the place on the page is, as the browser told
  let width = 0;
  let updates = 0;
  let failed = false;
  let closed = false;

  const tell = (text) => {
    parts.problem.textContent = text;
    parts.problem.hidden = !text;
    if (model.get("problem") !== text) {
      model.set("problem", text);
      model.save_changes();
    }
  };
  const fail = (error) => {
    failed = true;
    console.error("scenariokit: chart", model.get("heading"), error);
    const reason = error?.message ?? String(error);
    const words = model.get("words");
    const text = model.get("table_columns").length ? words.failed_with_table : words.failed;
    tell(text.replace("{reason}", () => reason));
  };

  // -- marking ---------------------------------------------------------------------

  const click = (event, item) => {
    const field = model.get("selection_field");
    if (!field) return;
    const before = model.get("selected");
    const value = item?.mark?.marktype === "group" ? undefined : item?.datum?.[field];
    let after = [];
    const one = String(value);
    if (value !== undefined && value !== null) {
      const on = before.includes(one);
      const several = event.shiftKey || event.ctrlKey || event.metaKey;
      if (several) after = on ? before.filter((other) => other !== one) : [...before, one];
      else after = on && before.length === 1 ? [] : [one];
    }
    mark(after);
  };
  const mark = (after) => {
    if (`${after}` === `${model.get("selected")}`) return;
    model.set("selected", after);
    model.save_changes();
  };
  // What a click does, by keyboard: arrows mark one after the other, Escape marks none.
  const step = (event) => {
    const field = model.get("selection_field");
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key] ?? 0;
    if (!field || (!by && event.key !== "Escape")) return;
    event.preventDefault();
    const values = Object.values(model.get("datasets")).flat().map((row) => row[field] ?? "");
    const known = [...new Set(values.map(String).filter(Boolean))];
    const at = known.indexOf(model.get("selected").at(-1));
    const next = known.at((at < 0 && by < 0 ? 0 : at) + by) ?? known[0];
    mark(by && known.length ? [next] : []);
  };
  plot.addEventListener("keydown", step);

  // -- drawing ---------------------------------------------------------------------

  const log = (vega) => {
    const made = vega.logger(vega.Warn);
    made.error = (...words) => {
      fail(words.find((word) => word instanceof Error) ?? new Error(words.join(" ")));
      return made;
    };
    return made;
  };

  const draw = async () => {
    const { vega, vegaEmbed } = await engine(model.get("engine_key"), model.get("words").late);
    if (closed) return;
    const spec = prepared(model, width);
    const host = element("div", "sk-plot-host");
    const sent = new Map(
      Object.entries(model.get("datasets")).map(([name, rows]) => [name, JSON.stringify(rows)]),
    );
    const { view, finalize } = await vegaEmbed(host, spec, {
      mode: "vega-lite", actions: false, renderer: "svg", defaultStyle: false, loader,
      logger: log(vega),
    });
    const known = view.getState({ signals: (name) => !!name, data: () => false }).signals;
    drawn?.finalize();
    drawn = {
      view, finalize, sent, single: isSingle(spec), signals: new Set(Object.keys(known)),
      values: new Map(), width, total: width,
    };
    view.addEventListener("click", click);
    await proportion();
    // What the drawing library says of axes and marks is English; figure and table say it instead.
    host.querySelector("svg")?.setAttribute("aria-hidden", "true");
    plot.replaceChildren(host);
    if (closed) drawn.finalize();
  };

  // Gives the frame of the plot the wanted shape once the axes have taken their room.
  const proportion = async () => {
    const aspect = model.get("aspect");
    if (aspect === null || !drawn.single) return;
    const { view } = drawn;
    for (let round = 0; round < 3; round += 1) {
      const inner = view.width();
      const height = Math.min(inner * aspect, model.get("max_height"));
      const spare = inner - height / aspect;
      if (Math.abs(view.height() - height) < 1 && spare < 1) return;
      if (spare >= 1) {
        drawn.total -= spare;
        view.width(drawn.total);
      }
      view.height(height);
      await view.runAsync();
    }
  };

  const apply = async () => {
    const { view } = drawn;
    let work = false;
    for (const [name, rows] of Object.entries(model.get("datasets"))) {
      const text = JSON.stringify(rows);
      if (drawn.sent.get(name) === text) continue;
      view.data(name, structuredClone(rows));
      drawn.sent.set(name, text);
      work = true;
    }
    const wanted = { ...model.get("signals") };
    if (drawn.signals.has(MARKED)) wanted[MARKED] = model.get("selected");
    for (const [name, value] of Object.entries(wanted)) {
      const text = JSON.stringify(value);
      if (drawn.values.get(name) === text) continue;
      view.signal(name, structuredClone(value));
      drawn.values.set(name, text);
      work = true;
    }
    const resized = drawn.single && Math.abs(drawn.width - width) >= 1;
    if (resized) {
      drawn.width = width;
      drawn.total = width;
      view.width(width);
      work = true;
    }
    if (work) await view.runAsync();
    if (work) await proportion();
    return work;
  };

  // Draws, and returns what remains to be done when all others are drawn.
  const flush = async () => {
    asked = false;
    if (busy) {
      again = true;
      return undefined;
    }
    room ??= plot.clientWidth;
    if (closed || !Object.keys(model.get("spec")).length || !room) return undefined;
    if (!drawn && !stale) return undefined; // it could not be drawn; other rows or another chart may do
    busy = true;
    width = Math.floor(room);
    try {
      failed = false;
      let worked = true;
      if (stale) {
        stale = false;
        await draw();
      } else {
        worked = await apply();
      }
      if (worked && !failed && parts.problem.textContent) tell("");
      return measure;
    } catch (error) {
      fail(error);
      rest();
      return undefined;
    }
  };
  const measure = () => {
    try {
      plot.querySelectorAll("svg").forEach(widen);
      const reached = model.get("selection_field") || plot.scrollWidth > plot.clientWidth;
      put(plot, "tabindex", reached ? "0" : "-1");
      updates += 1;
      figure.dataset.updates = String(updates);
    } catch (error) {
      fail(error);
    } finally {
      rest();
    }
  };
  const rest = () => {
    busy = false;
    if (!again) return;
    again = false;
    request();
  };
  const request = () => {
    if (asked || closed) return;
    asked = true;
    inAFrame(flush, stale);
  };
  const refresh = () => {
    if (!drawn) stale = true;
    request();
  };
  const redraw = () => {
    stale = true;
    request();
  };

  // -- words and numbers -------------------------------------------------------------

  const showWords = () => {
    const heading = model.get("heading");
    const words = model.get("words");
    el.lang = words.lang;
    parts.opener.textContent = words.numbers;
    parts.heading.textContent = heading;
    parts.heading.hidden = !heading;
    const marks = Boolean(model.get("selection_field"));
    plot.setAttribute("role", "group");
    const told = marks ? words.mark_by_keys : "{heading}";
    plot.setAttribute("aria-label", told.replace("{heading}", () => heading || words.chart));
    figure.setAttribute("aria-label", model.get("description") || heading || words.chart);
    const named = words.numbers_of.replace("{heading}", () => heading || words.chart);
    parts.frame.setAttribute("aria-label", named);
    showTable();
    showPictures();
  };
  const showTable = () => {
    const columns = model.get("table_columns");
    parts.twin.hidden = !columns.length;
    if (!parts.twin.open || !columns.length) return; // filled when it is opened
    parts.frame.replaceChildren(table(columns, model.get("table_rows"), model.get("heading")));
  };
  const showPictures = () => {
    const name = model.get("picture_name");
    parts.pictures.hidden = !name;
    parts.pictures.replaceChildren();
    if (!name) return;
    for (const kind of ["svg", "png"]) {
      const button = element("button", "", model.get("words").save_as.replace("{kind}", kind.toUpperCase()));
      button.type = "button";
      button.setAttribute("aria-describedby", parts.heading.id);
      button.addEventListener("click", async () => {
        if (!drawn) return;
        try {
          download(await drawn.view.toImageURL(kind, kind === "png" ? 2 : 1), `${name}.${kind}`);
        } catch (error) {
          fail(error);
        }
      });
      parts.pictures.append(button);
    }
  };
  parts.twin.addEventListener("toggle", showTable);

  const listeners = [
    ["change:spec", redraw], ["change:aspect", redraw], ["change:max_height", redraw],
    ["change:datasets", refresh], ["change:signals", refresh], ["change:selected", request],
    ["change:heading", showWords], ["change:description", showWords], ["change:words", showWords],
    ["change:table_columns", showTable], ["change:table_rows", showTable],
    ["change:picture_name", showPictures],
  ];
  for (const [event, handler] of listeners) model.on(event, handler);
  const observer = new ResizeObserver((entries) => {
    const shown = !room;
    room = entries.at(-1).contentRect.width;
    if (!drawn || shown || Math.abs(drawn.width - room) >= 1 || stale) request();
  });
  observer.observe(plot);
  // The engine's model may not exist yet on this page: asking for it makes the page create it.
  const reference = model.get("engine").replace("IPY_MODEL_", "");
  Promise.resolve(model.widget_manager.get_model(reference)).catch((error) => {
    console.warn("scenariokit: the drawing code is not here yet", error);
  });
  showWords();
  request();

  return () => {
    closed = true;
    observer.disconnect();
    for (const [event, handler] of listeners) model.off(event, handler);
    drawn?.finalize();
  };
}

export default { render };
