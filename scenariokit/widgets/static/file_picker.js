// A native file input: checks the size before anything is sent, then sends name and bytes.

// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;

function element(tag, attributes = {}, text = "") {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value) made.setAttribute(name, value);
  if (text) made.textContent = text;
  return made;
}

// What the page says comes from the kernel, in the reader's language.
function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

function size(bytes, words) {
  if (bytes < 1000) return filled(words.bytes, { count: bytes });
  const short = (number) => {
    const digits = { maximumSignificantDigits: 3, useGrouping: false };
    return new Intl.NumberFormat(words.lang, digits).format(number);
  };
  return bytes < 1e6 ? `${short(bytes / 1e3)} kB` : `${short(bytes / 1e6)} MB`;
}

function render({ model, el }) {
  const id = `sk-file-${own}-${(serial += 1)}`;
  el.classList.add("sk-file");
  const label = element("label", { for: id });
  const input = element("input", { type: "file", id, "aria-describedby": `${id}-help ${id}-status` });
  const help = element("p", { class: "sk-file-help", id: `${id}-help` });
  const status = element("p", { class: "sk-file-status", id: `${id}-status`, role: "status" });
  el.append(label, input, help, status);

  const say = (text, bad = false) => {
    status.textContent = text;
    status.classList.toggle("sk-file-bad", bad);
    input.setAttribute("aria-invalid", String(bad));
  };
  const describe = () => {
    el.lang = model.get("words").lang;
    label.textContent = model.get("label");
    input.accept = model.get("accept");
    input.multiple = model.get("multiple");
    help.textContent = model.get("help");
    help.hidden = !model.get("help");
  };
  const saved = () => say(model.get("message"), model.get("refused"));
  const answered = (content) => {
    if (content.kind === "message") say(content.text, content.refused);
  };
  const send = async () => {
    const files = [...input.files];
    if (!files.length) return;
    const words = model.get("words");
    const most = model.get("max_bytes");
    const all = files.reduce((sum, file) => sum + file.size, 0);
    const one = files.length === 1;
    const called = one ? files[0].name : filled(words.files, { count: files.length });
    if (all > most) {
      input.value = "";
      const sizes = { size: size(all, words), most: size(most, words) };
      say(filled(one ? words.large : words.large_together, { name: called, ...sizes }), true);
      return;
    }
    say(filled(words.reading, { name: called }));
    try {
      const bytes = await Promise.all(files.map((file) => file.arrayBuffer()));
      const message = model.get("multiple")
        ? { kind: "files", names: files.map((file) => file.name) }
        : { kind: "file", name: files[0].name };
      model.send(message, undefined, bytes);
    } catch (error) {
      console.error("scenariokit: file", error);
      say(filled(words.unread, { name: called }), true);
    }
  };

  input.addEventListener("change", send);
  input.addEventListener("click", () => { input.value = ""; }); // so the same file may be chosen again
  const listeners = [
    ["change:label", describe], ["change:accept", describe], ["change:help", describe],
    ["change:multiple", describe], ["change:words", describe],
    ["change:message", saved], ["msg:custom", answered],
  ];
  for (const [event, handler] of listeners) model.on(event, handler);
  describe();
  saved();
  return () => {
    for (const [event, handler] of listeners) model.off(event, handler);
  };
}

export default { render };
