// Copies a link to what stands on the page, and tells the kernel what the page's address asks for.

const WAIT_MS = 30000;
const MOST_SENT = 200000;
const TARGET_KEY = "scenariokit.link.target.1";
// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;

function element(tag, attributes = {}) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value) made.setAttribute(name, value);
  return made;
}

// What the address holds: behind "#" first, because a person puts it there; else in the query.
function asked(name) {
  const behind = new URLSearchParams(location.hash.slice(1));
  const value = behind.get(name) ?? new URLSearchParams(location.search).get(name) ?? "";
  return value.slice(0, MOST_SENT);
}

// A browser may forbid storage; the typed address is then forgotten with the page, no more.
function remembered() {
  try {
    return localStorage.getItem(TARGET_KEY) ?? "";
  } catch {
    return "";
  }
}

// What lets a person in is not for keeping, and what is no address is not worth it.
function lasting(address) {
  try {
    const url = new URL(address);
    url.searchParams.delete("token");
    url.username = "";
    url.password = "";
    return url.href;
  } catch {
    return "";
  }
}

function remember(address) {
  const kept = lasting(address);
  try {
    if (kept) localStorage.setItem(TARGET_KEY, kept);
    else localStorage.removeItem(TARGET_KEY);
    return true;
  } catch {
    return false;
  }
}

// The clipboard needs a secure page, which one in a local network mostly is not.
async function copied(field) {
  if (navigator.clipboard && window.isSecureContext) {
    try {
      await navigator.clipboard.writeText(field.value);
      return true;
    } catch (error) {
      console.info("scenariokit: the clipboard is closed to this page", error);
    }
  }
  field.focus();
  field.select();
  return document.execCommand("copy");
}

function render({ model, el }) {
  const mine = `${own}-${(serial += 1)}`;
  const id = `sk-link-${mine}`;
  el.classList.add("sk-link");
  const words = (name) => model.get("words")[name] ?? "";

  const where = element("fieldset");
  const legend = element("legend");
  where.append(legend);
  const options = ["here", "there"].map((value) => {
    const label = element("label", { class: "sk-link-option" });
    const radio = element("input", { type: "radio", name: `${id}-where`, value });
    const text = element("span");
    label.append(radio, text);
    where.append(label);
    return { radio, text, value };
  });
  const [here, there] = options;
  here.radio.checked = true;
  const typed = element("div");
  const typedLabel = element("label", { class: "sk-link-label", for: `${id}-target` });
  const target = element("input", {
    type: "url", id: `${id}-target`, maxlength: "4000", spellcheck: "false", autocomplete: "off",
    "aria-describedby": `${id}-target-help`,
  });
  const typedHelp = element("p", { class: "sk-link-help", id: `${id}-target-help` });
  typed.append(typedLabel, target, typedHelp);
  typed.hidden = true;
  target.value = remembered();

  const button = element("button", { type: "button", "aria-describedby": `${id}-help` });
  const help = element("p", { class: "sk-link-help", id: `${id}-help` });
  const made = element("div");
  const madeLabel = element("label", { class: "sk-link-label", for: `${id}-made` });
  const field = element("input", { type: "text", id: `${id}-made`, readonly: "readonly", spellcheck: "false" });
  made.append(madeLabel, field);
  made.hidden = true;
  const status = element("p", { class: "sk-link-status", role: "status" });
  el.append(where, typed, button, help, made, status);
  let timer = 0;

  const say = (text, bad = false) => {
    status.textContent = text;
    status.classList.toggle("sk-link-bad", bad);
  };
  const describe = () => {
    legend.textContent = words("where");
    for (const one of options) one.text.textContent = words(one.value);
    typedLabel.textContent = words("target");
    typedHelp.textContent = words("target_help");
    button.textContent = words("copy");
    help.textContent = words("help");
    madeLabel.textContent = words("made");
  };
  const rest = () => {
    clearTimeout(timer);
    timer = 0;
    button.removeAttribute("aria-busy");
  };
  where.addEventListener("change", () => {
    typed.hidden = !there.radio.checked;
  });
  target.addEventListener("change", () => {
    if (!remember(target.value.trim())) say(words("not_remembered"));
  });
  field.addEventListener("focus", () => field.select());
  button.addEventListener("click", () => {
    if (timer) return;
    button.setAttribute("aria-busy", "true");
    say(words("preparing"));
    timer = setTimeout(() => {
      rest();
      say(words("no_answer"), true);
    }, WAIT_MS);
    const away = there.radio.checked;
    model.send({
      kind: "want", view: mine, base: away ? target.value : location.href, own_page: !away,
    });
  });
  const answered = async (content) => {
    if (content.view !== mine || !timer) return;
    rest();
    if (content.kind !== "link") {
      made.hidden = true;
      say(content.text, true);
      return;
    }
    field.value = content.address;
    made.hidden = false;
    const done = await copied(field);
    say(`${done ? words("copied") : words("copy_yourself")} ${content.text}`);
  };

  // The kernel does nothing for an address that it knows already, so that a second view is harmless.
  const tell = () => model.send({ kind: "address", board: asked("board"), language: asked("language") });
  const listeners = [["change:words", describe], ["msg:custom", answered]];
  for (const [event, handler] of listeners) model.on(event, handler);
  window.addEventListener("hashchange", tell);
  describe();
  tell();
  return () => {
    clearTimeout(timer);
    window.removeEventListener("hashchange", tell);
    for (const [event, handler] of listeners) model.off(event, handler);
  };
}

export default { render };
