// A button that asks for fresh content and hands it to the browser as a file.

const WAIT_MS = 30000;
// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;

function element(tag, attributes = {}, text = "") {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value) made.setAttribute(name, value);
  if (text) made.textContent = text;
  return made;
}

function download(bytes, filename, mime) {
  const url = URL.createObjectURL(new Blob([bytes], { type: mime }));
  const link = element("a", { href: url, download: filename });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), WAIT_MS);
}

function render({ model, el }) {
  const mine = `${Date.now()}-${(serial += 1)}`; // several views of one button answer for themselves
  el.classList.add("sk-file");
  const button = element("button", { type: "button" });
  const help = element("p", { class: "sk-file-help", id: `sk-save-${own}-${serial}-help` });
  const status = element("p", { class: "sk-file-status", role: "status" });
  button.setAttribute("aria-describedby", help.id);
  el.append(button, help, status);
  let timer = 0;

  const say = (text, bad = false) => {
    status.textContent = text;
    status.classList.toggle("sk-file-bad", bad);
  };
  const describe = () => {
    el.lang = model.get("words").lang;
    button.textContent = model.get("label");
    help.textContent = model.get("help");
    help.hidden = !model.get("help");
  };
  const rest = () => {
    clearTimeout(timer);
    timer = 0;
    button.removeAttribute("aria-busy");
  };
  button.addEventListener("click", () => {
    if (timer) return;
    button.setAttribute("aria-busy", "true");
    say(model.get("words").preparing);
    timer = setTimeout(() => {
      rest();
      say(model.get("words").lost, true);
    }, WAIT_MS);
    model.send({ kind: "want", view: mine });
  });
  const answered = (content, buffers) => {
    if (content.view !== mine || !timer) return;
    rest();
    if (content.kind === "content") {
      download(buffers[0], content.filename, content.mime);
      say(model.get("words").handed.replace("{name}", () => content.filename));
    } else {
      say(content.text, true);
    }
  };

  const listeners = [["change:label", describe], ["change:help", describe],
    ["change:words", describe], ["msg:custom", answered]];
  for (const [event, handler] of listeners) model.on(event, handler);
  describe();
  return () => {
    clearTimeout(timer);
    for (const [event, handler] of listeners) model.off(event, handler);
  };
}

export default { render };
