// Keeps a board in this browser where the person ticked that, and offers it on the next visit.

const QUIET_MS = 1200; // so long no change may have come before the content is asked for
// A widget may be given a module of its own: a count alone would repeat ids on the page.
const own = Math.random().toString(36).slice(2, 10);
let serial = 0;

function element(tag, attributes = {}) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value) made.setAttribute(name, value);
  return made;
}

// What is kept, if it is ours; anything else under this name is as good as nothing.
function parsed(text) {
  try {
    const found = JSON.parse(text ?? "null");
    const sound = found && typeof found.text === "string" && Number.isFinite(found.saved);
    return sound ? found : null;
  } catch {
    return null;
  }
}

function render({ model, el }) {
  const mine = `${own}-${(serial += 1)}`;
  const id = `sk-store-${mine}`;
  const key = model.get("place");
  const flag = `${key}.keep`;
  el.classList.add("sk-store");
  const words = (name, time = null) => {
    const text = model.get("words")[name] ?? "";
    return time === null ? text : text.replace("{time}", clock(time));
  };
  const clock = (time) => {
    const date = new Date(time);
    const today = date.toDateString() === new Date().toDateString();
    const day = today ? {} : { day: "numeric", month: "short", year: "numeric" };
    const parts = { ...day, hour: "numeric", minute: "2-digit" };
    return new Intl.DateTimeFormat(words("lang") || undefined, parts).format(date);
  };

  const option = element("label", { class: "sk-store-option" });
  const box = element("input", { type: "checkbox", "aria-describedby": `${id}-help` });
  const optionText = element("span");
  option.append(box, optionText);
  const help = element("p", { class: "sk-store-help", id: `${id}-help` });
  const kept = element("p", { class: "sk-store-kept" });
  const clear = element("button", { type: "button" });
  const status = element("p", { class: "sk-store-status", role: "status" });
  const offer = element("div", { class: "sk-store-offer", role: "group", "aria-labelledby": `${id}-offer` });
  const offerText = element("p", { id: `${id}-offer`, role: "status" });
  const goOn = element("button", { type: "button" });
  const afresh = element("button", { type: "button" });
  offer.append(offerText, goOn, afresh);
  offer.hidden = true;
  el.append(option, help, kept, clear, status);

  let timer = 0;
  let entry = null; // what is kept
  let undecided = false; // whether what was found on arrival still waits for an answer

  const say = (text, bad = false) => {
    status.textContent = text;
    status.classList.toggle("sk-store-bad", bad);
  };
  const show = () => {
    optionText.textContent = words("keep");
    help.textContent = words("help");
    clear.textContent = words("clear");
    goOn.textContent = words("go_on");
    afresh.textContent = words("afresh");
    clear.hidden = !entry;
    kept.textContent = entry ? words("kept", entry.saved) : "";
    kept.hidden = !entry;
    offer.hidden = !undecided;
    offer.lang = words("lang");
    // Outside every box that scrolls, and first to be reached by keyboard.
    if (undecided && !offer.isConnected) document.body.prepend(offer);
    // Said late, so that a screen reader has met the empty region before.
    const text = undecided && entry ? words("offer", entry.saved) : "";
    if (offerText.textContent !== text) setTimeout(() => { offerText.textContent = text; }, 0);
  };
  const blocked = (error) => {
    const full = error?.name === "QuotaExceededError" || error?.name === "NS_ERROR_DOM_QUOTA_REACHED";
    console.info("scenariokit: storage", error);
    say(words(full ? "full" : "blocked"), true);
    return false;
  };
  const tell = () => model.send({ kind: "keeping", view: mine, on: box.checked });
  const ask = () => {
    timer = 0;
    if (box.checked && !undecided) model.send({ kind: "want", view: mine });
  };
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(ask, QUIET_MS);
  };
  const write = (text) => {
    const made = { saved: Date.now(), by: own, text };
    try {
      localStorage.setItem(key, JSON.stringify(made));
    } catch (error) {
      blocked(error);
      return;
    }
    entry = made;
    if (status.classList.contains("sk-store-bad")) say("");
    show();
  };
  const off = () => {
    clearTimeout(timer);
    box.checked = false;
    tell();
  };
  const removed = (name) => {
    try {
      localStorage.removeItem(name);
      return true;
    } catch (error) {
      return blocked(error);
    }
  };

  box.addEventListener("change", () => {
    if (!box.checked) {
      off();
      if (removed(flag)) say(words("stopped"));
      return;
    }
    try {
      localStorage.setItem(flag, "yes");
    } catch (error) {
      off();
      blocked(error);
      return;
    }
    tell();
    say(words(undecided ? "waiting" : "started"));
    ask();
  });
  clear.addEventListener("click", () => {
    off();
    if (!removed(key) || !removed(flag)) return;
    entry = null;
    undecided = false;
    show();
    say(words("cleared"));
    box.focus();
  });
  goOn.addEventListener("click", () => {
    if (!entry) return;
    goOn.setAttribute("aria-busy", "true");
    model.send({ kind: "open", view: mine, text: entry.text });
  });
  afresh.addEventListener("click", () => {
    undecided = false;
    show();
    say(words(box.checked ? "replaced_soon" : "left"));
    box.focus();
  });
  const answered = (content) => {
    if (content.kind === "touched") {
      soon();
      return;
    }
    if (content.view !== mine) return;
    if (content.kind === "content") {
      if (box.checked && !undecided) write(content.text);
      return;
    }
    goOn.removeAttribute("aria-busy");
    undecided = false;
    show();
    if (content.kind === "opened") say(words("opened", entry?.saved ?? Date.now()));
    else say(content.text, true);
    box.focus();
  };
  // Another tab wrote: the newer write wins, and is said.
  const elsewhere = (event) => {
    if (event.storageArea !== localStorage) return;
    if (event.key === flag && event.newValue === null && box.checked) {
      off();
      say(words("stopped_elsewhere"));
    }
    if (event.key !== key && event.key !== null) return;
    entry = parsed(event.newValue);
    if (!entry) undecided = false;
    show();
    say(entry ? words("elsewhere", entry.saved) : words("cleared_elsewhere"));
  };

  const listeners = [["change:words", show], ["msg:custom", answered]];
  for (const [event, handler] of listeners) model.on(event, handler);
  window.addEventListener("storage", elsewhere);
  try {
    entry = parsed(localStorage.getItem(key));
    box.checked = localStorage.getItem(flag) === "yes";
    undecided = entry !== null;
  } catch (error) {
    box.disabled = true;
    blocked(error);
  }
  show();
  tell();
  return () => {
    clearTimeout(timer);
    window.removeEventListener("storage", elsewhere);
    offer.remove();
    for (const [event, handler] of listeners) model.off(event, handler);
    model.send({ kind: "keeping", view: mine, on: false });
  };
}

export default { render };
