// A page that draws its charts by itself: no kernel, no network. A method marked anywhere is marked
// in every chart.
"use strict";
(() => {
  const SOURCES = [
/*__SOURCES__*/
  ];
  const MARKED = "marked";
  const FIELD = "method";
  const { charts, methods, words } = JSON.parse(document.getElementById("sk-data").textContent);
  const names = new Map(methods);
  const drawn = [];
  let marked = [];

  function libraries() {
    const loaded = new Map();
    const need = (name) => {
      if (!loaded.has(name)) throw new Error(`${name} is not part of this page`);
      return loaded.get(name);
    };
    for (const [name, run] of SOURCES) {
      const module = { exports: {} };
      run.call(undefined, module.exports, module, need, undefined);
      loaded.set(name, module.exports);
    }
    return { vega: loaded.get("vega"), vegaEmbed: loaded.get("vega-embed") };
  }

  // Charts bring their rows along: nothing is ever fetched.
  const refuse = (uri) => Promise.reject(new Error(`charts load nothing, so not ${uri}`));
  const loader = { load: refuse, sanitize: refuse, http: refuse, file: refuse };

  // -- marking -----------------------------------------------------------------------

  const buttons = new Map(
    [...document.querySelectorAll("[data-method]")].map((one) => [one.dataset.method, one]),
  );
  const status = document.getElementById("sk-marked");

  function mark(after) {
    marked = after;
    for (const [id, button] of buttons) button.setAttribute("aria-pressed", String(after.includes(id)));
    status.textContent = after.length
      ? `${words.marked} ${after.map((id) => names.get(id) ?? id).join(", ")}`
      : words.none;
    for (const { view, marks } of drawn) if (marks) view.signal(MARKED, [...after]).runAsync();
  }

  function toggled(id, several) {
    const on = marked.includes(id);
    if (several) return on ? marked.filter((other) => other !== id) : [...marked, id];
    return on && marked.length === 1 ? [] : [id];
  }

  for (const [id, button] of buttons) button.addEventListener("click", () => mark(toggled(id, true)));
  document.getElementById("sk-clear").addEventListener("click", () => mark([]));

  function clicked(event, item) {
    const value = item?.mark?.marktype === "group" ? undefined : item?.datum?.[FIELD];
    if (value === undefined || value === null) {
      // A label names its method by what it says; anything else clears.
      const id = methods.find(([, label]) => label === item?.datum?.label)?.[0];
      mark(id === undefined ? [] : toggled(id, event.shiftKey || event.ctrlKey || event.metaKey));
      return;
    }
    mark(toggled(String(value), event.shiftKey || event.ctrlKey || event.metaKey));
  }

  // -- drawing -----------------------------------------------------------------------

  // Gives the frame of a drawing to scale its shape once the axes have taken their room.
  async function proportion(view, aspect, width) {
    for (let round = 0; round < 3; round += 1) {
      const height = Math.min(view.width() * aspect, 420);
      const spare = view.width() - height / aspect;
      if (Math.abs(view.height() - height) < 1 && spare < 1) return;
      if (spare >= 1) view.width((width -= spare));
      view.height(height);
      await view.runAsync();
    }
  }

  async function draw({ vega, vegaEmbed }, chart, figure) {
    const plot = figure.querySelector(".sk-plot");
    const spec = chart.spec;
    const width = Math.floor(plot.clientWidth);
    const scaled = chart.aspect !== null;
    spec.width = width;
    if (scaled) spec.height = Math.round(width * chart.aspect);
    spec.autosize = { type: scaled ? "fit-x" : "fit", contains: "padding", resize: true };
    const { view } = await vegaEmbed(plot, spec, {
      mode: "vega-lite", actions: false, renderer: "svg", ast: true, defaultStyle: false, loader,
      logLevel: vega.Error,
    });
    // What the drawing library says of axes and marks is English; figure and table say it instead.
    plot.querySelector("svg")?.setAttribute("aria-hidden", "true");
    if (scaled) await proportion(view, chart.aspect, width);
    const marks = (spec.params ?? []).some((one) => one.name === MARKED);
    if (marks) view.addEventListener("click", clicked);
    drawn.push({ view, marks, plot, aspect: chart.aspect, width });
    figure.dataset.drawn = "yes";
  }

  async function all() {
    const shared = libraries();
    const figures = [...document.querySelectorAll("figure[data-chart]")];
    for (const figure of figures) {
      try {
        await draw(shared, charts[Number(figure.dataset.chart)], figure);
      } catch (error) {
        const told = figure.querySelector(".sk-problem");
        told.textContent = `${words.failed} ${error.message}`;
        told.hidden = false;
      }
    }
    document.body.dataset.ready = "yes";
  }

  let later = 0;
  window.addEventListener("resize", () => {
    cancelAnimationFrame(later);
    later = requestAnimationFrame(async () => {
      for (const one of drawn) {
        const width = Math.floor(one.plot.clientWidth);
        if (!width || Math.abs(width - one.width) < 1) continue;
        one.width = width;
        await one.view.width(width).runAsync();
        if (one.aspect !== null) await proportion(one.view, one.aspect, width);
      }
    });
  });
  mark([]);
  all();
})();
