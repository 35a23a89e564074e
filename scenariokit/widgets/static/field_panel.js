// Controls from descriptions: native inputs, so keyboard, touch and screen readers work unaided.

// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;
const AGAIN_MS = 8000;
const MOST_MS = 60000;

function element(tag, attributes = {}, text = "") {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) made.setAttribute(name, value);
  }
  if (text) made.textContent = text;
  return made;
}

function describe(field, id) {
  const row = element("div", { class: `sk-field sk-field-${field.kind}`, "data-key": field.key });
  const error = element("p", { class: "sk-field-error", id: `${id}-error`, role: "alert" });
  error.hidden = true;
  const help = element("p", { class: "sk-field-help", id: `${id}-help` }, field.help);
  help.hidden = true;
  return { row, error, help };
}

// What the page says comes from the kernel, in the reader's language.
function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

function labelRow(field, id, help, words, tag = "label") {
  const head = element("div", { class: "sk-field-head" });
  const label = element(tag, tag === "label" ? { for: id } : { id: `${id}-legend` });
  label.textContent = field.unit ? `${field.label} (${field.unit})` : field.label;
  head.append(label);
  if (field.help) {
    const more = element("button", {
      type: "button", class: "sk-field-more", title: field.help,
      "aria-label": filled(words.what_is, { label: field.label }), "aria-expanded": "false", "aria-controls": help.id,
    }, "?");
    more.addEventListener("click", () => {
      help.hidden = !help.hidden;
      more.setAttribute("aria-expanded", String(!help.hidden));
    });
    more.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !help.hidden) more.click();
    });
    head.append(more);
  }
  return head;
}

// Answers to earlier moves may arrive while somebody writes in a box: that is left alone.
function whileTyping(box) {
  let typing = false;
  box.addEventListener("input", () => { typing = true; });
  for (const end of ["change", "blur"]) box.addEventListener(end, () => { typing = false; });
  return () => typing;
}

function rangeField(field, id, send, words) {
  const { row, error, help } = describe(field, id);
  const slider = element("input", {
    type: "range", id: `${id}-slider`, min: field.low, max: field.high, step: field.step,
    "aria-label": field.unit ? `${field.label} (${field.unit})` : field.label,
    "aria-describedby": `${id}-error`,
  });
  const box = element("input", {
    type: "number", id, step: "any", inputmode: "decimal", min: field.minimum, max: field.maximum,
    "aria-describedby": `${id}-error`,
  });
  const body = element("div", { class: "sk-field-body" });
  body.append(slider, box);
  row.append(labelRow(field, id, help, words), body, help, error);
  // A value between two steps is shown as it is, not rounded to the nearest one.
  const shown = (value) => {
    const step = Number(value.toFixed(field.digits));
    const close = Math.abs(step - value) <= 1e-9 * Math.max(1, Math.abs(value));
    return close ? step : Number(value.toPrecision(5));
  };
  const typing = whileTyping(box);
  const show = (value) => {
    const there = document.activeElement === box && Number(box.value) === value;
    if (!there && !typing()) box.value = shown(value);
    slider.value = value;
    slider.setAttribute("aria-valuetext", `${shown(value)} ${field.unit}`);
  };
  slider.addEventListener("input", () => {
    box.value = shown(slider.valueAsNumber);
    slider.setAttribute("aria-valuetext", `${box.value} ${field.unit}`);
    send(field.key, slider.valueAsNumber, true);
  });
  // A finger that scrolls the page may begin on a slider: what it moved then is put back.
  let held = null;
  slider.addEventListener("pointerdown", () => { held = slider.value; });
  slider.addEventListener("pointercancel", () => {
    if (held === null || held === slider.value) return;
    slider.value = held;
    slider.dispatchEvent(new Event("input"));
  });
  box.addEventListener("change", () => {
    if (Number.isFinite(box.valueAsNumber)) send(field.key, box.valueAsNumber);
    else fail(words.no_number);
  });
  const fail = (message) => {
    error.textContent = message;
    error.hidden = !message;
    box.setAttribute("aria-invalid", message ? "true" : "false");
  };
  return { row, show, fail };
}

function numberField(field, id, send, words) {
  const made = rangeField(field, id, send, words);
  made.row.querySelector("input[type=range]").remove();
  return made;
}

function choiceField(field, id, send, words) {
  const { row, error, help } = describe(field, id);
  const select = element("select", { id, "aria-describedby": `${id}-error` });
  for (const [value, label, lang] of field.options) {
    select.append(element("option", { value, lang }, label));
  }
  select.addEventListener("change", () => send(field.key, select.value));
  row.append(labelRow(field, id, help, words), select, help, error);
  return {
    row,
    show: (value) => { select.value = value; },
    fail: (message) => { error.textContent = message; error.hidden = !message; },
  };
}

// One of several, all of them in sight: radio buttons, so that arrow keys move between them.
function tabsField(field, id, send, words) {
  const { row, error, help } = describe(field, id);
  const group = element("div", { role: "radiogroup", "aria-labelledby": `${id}-legend`, "aria-describedby": `${id}-error`, class: "sk-tabs" });
  const buttons = field.options.map(([value, label], index) => {
    const item = element("label", { class: "sk-tab" });
    const button = element("input", { type: "radio", value, name: id, id: `${id}-${index}` });
    item.append(button, element("span", {}, label));
    group.append(item);
    button.addEventListener("change", () => send(field.key, button.value));
    return button;
  });
  row.append(labelRow(field, id, help, words, "span"), group, help, error);
  return {
    row,
    show: (value) => { for (const button of buttons) button.checked = button.value === value; },
    fail: (message) => { error.textContent = message; error.hidden = !message; },
  };
}

function manyField(field, id, send, words) {
  const { row, error, help } = describe(field, id);
  const group = element("div", { role: "group", "aria-labelledby": `${id}-legend`, "aria-describedby": `${id}-error`, class: "sk-many" });
  const boxes = field.options.map(([value, label], index) => {
    const item = element("label", { class: "sk-many-item" });
    const box = element("input", { type: "checkbox", value, id: `${id}-${index}` });
    item.append(box, element("span", {}, label));
    group.append(item);
    box.addEventListener("change", () => {
      send(field.key, boxes.filter((one) => one.checked).map((one) => one.value));
    });
    return box;
  });
  row.append(labelRow(field, id, help, words, "span"), group, help, error);
  return {
    row,
    show: (value) => { for (const box of boxes) box.checked = value.includes(box.value); },
    fail: (message) => { error.textContent = message; error.hidden = !message; },
  };
}

function textField(field, id, send, words) {
  const { row, error, help } = describe(field, id);
  const several = field.rows > 1;
  const box = element(several ? "textarea" : "input", {
    id, maxlength: 2000, spellcheck: "false", "aria-describedby": `${id}-error`,
    ...(several ? { rows: field.rows } : { type: field.input }),
  });
  const typing = whileTyping(box);
  box.addEventListener("change", () => send(field.key, box.value));
  row.append(labelRow(field, id, help, words), box, help, error);
  return {
    row,
    show: (value) => { if (box.value !== value && !typing()) box.value = value; },
    fail: (message) => {
      error.textContent = message;
      error.hidden = !message;
      box.setAttribute("aria-invalid", message ? "true" : "false");
    },
  };
}

const KINDS = {
  range: rangeField, number: numberField, choice: choiceField, tabs: tabsField, many: manyField,
  text: textField,
};

function render({ model, el }) {
  el.classList.add("sk-panel");
  let made = new Map();

  // A move counts until the kernel has heard it: what it answered to an earlier one cannot undo it,
  // and only what was moved is sent, so that nothing else goes back to what this page still shows.
  // A slider has one message on its way at a time. What is picked or written is sent at once, so
  // that a button pressed next does not overtake it. If no answer comes, the line may have swallowed it.
  const unheard = () => (model.get("moved") ?? []).filter(([serial]) => serial > model.get("heard"));
  let again = null;
  let pause = AGAIN_MS;
  const push = () => {
    clearTimeout(again);
    again = null;
    if (!unheard().length) return;
    model.send({ moved: unheard() });
    again = setTimeout(push, pause);
    pause = Math.min(2 * pause, MOST_MS);
  };
  const send = (key, value, sliding = false) => {
    const waiting = unheard();
    const serial = (waiting.at(-1)?.[0] ?? model.get("heard")) + 1;
    model.set("moved", [...waiting.filter(([, other]) => other !== key), [serial, key, value]]);
    if (again === null || !sliding) push();
  };
  const answered = () => {
    pause = AGAIN_MS;
    push();
    show();
  };

  const build = () => {
    const open = new Map([...el.querySelectorAll("details")].map((one) => [one.dataset.topic, one.open]));
    const focused = document.activeElement?.id;
    el.replaceChildren();
    made = new Map();
    const topics = new Map();
    const words = model.get("words");
    const prefix = model.get("prefix") || `sk-panel-${own}-${(serial += 1)}`;
    for (const field of model.get("fields")) {
      if (!topics.has(field.topic)) {
        const first = topics.size === 0;
        let box;
        if (field.topic) {
          box = element("details", { class: "sk-topic", "data-topic": field.topic });
          // On a narrow page every topic but the first begins folded, so that results stay near.
          box.open = open.get(field.topic) ?? (first || !(model.get("folded") || window.innerWidth < 820));
          box.append(element("summary", {}, field.topic));
        } else {
          box = element("div", { class: "sk-topic-plain" });
        }
        topics.set(field.topic, box);
        el.append(box);
      }
      const parts = KINDS[field.kind](field, `${prefix}-${field.key.replaceAll(".", "-")}`, send, words);
      made.set(field.key, parts);
      topics.get(field.topic).append(parts.row);
    }
    show();
    fail();
    if (focused) document.getElementById(focused)?.focus();
  };
  const show = () => {
    const values = { ...model.get("values") };
    for (const [, key, value] of unheard()) values[key] = value;
    for (const [key, parts] of made) if (values[key] !== undefined) parts.show(values[key]);
  };
  const fail = () => {
    const errors = model.get("errors");
    for (const [key, parts] of made) parts.fail(errors[key] ?? "");
  };

  // The app's box cannot be given an attribute by the kernel: its panel notes the language there.
  const speak = () => {
    const { lang } = model.get("words");
    el.lang = lang;
    if (!model.get("page_of")) return;
    const box = el.closest(`.${model.get("page_of")}`);
    if (box) box.lang = lang;
    if (!document.body.dataset.voila) return; // a notebook has a language and a title of its own
    document.documentElement.lang = lang;
    if (model.get("page_title")) document.title = model.get("page_title");
  };
  const reword = () => {
    build();
    speak();
  };

  model.on("change:fields", build);
  model.on("change:values", show);
  model.on("change:moved", show); // by another view of the same panel, too
  model.on("change:heard", answered);
  model.on("change:errors", fail);
  model.on("change:words", reword);
  model.on("change:page_title", speak);
  build();
  const placed = requestAnimationFrame(speak); // by then the panel stands in its box
  return () => {
    cancelAnimationFrame(placed);
    model.off("change:words", reword);
    model.off("change:page_title", speak);
    model.off("change:fields", build);
    model.off("change:values", show);
    model.off("change:moved", show);
    model.off("change:heard", answered);
    clearTimeout(again);
    model.off("change:errors", fail);
  };
}

export default { render };
