// For those who do not see the page whole: a way past the controls, names of its regions, and the
// news of the results in one sentence, said once they rest.

const REST_MS = 1000;
const SPOKEN = "[data-spoken]";
const REGIONS = { "sk-controls": "controls", "sk-results": "results" };

function render({ model, el }) {
  el.classList.add("sk-guide");
  const link = document.createElement("a");
  link.className = "sk-skip";
  link.href = "#";
  const line = document.createElement("p");
  line.className = "sk-unseen";
  line.setAttribute("role", "status");
  el.append(link, line);
  let box = null;
  let known = null; // what was to be read when the page last rested
  let timer = 0;

  const region = (name) => box?.querySelector(`.${name}`);
  const describe = () => {
    const words = model.get("words");
    el.lang = words.lang;
    link.textContent = words.skip;
    for (const [name, word] of Object.entries(REGIONS)) {
      const found = region(name);
      if (!found) continue;
      found.setAttribute("role", "region");
      found.setAttribute("aria-label", words[word]);
    }
    link.hidden = !region("sk-results");
  };
  // The address is not touched: what stands behind its "#" is a board.
  link.addEventListener("click", (event) => {
    event.preventDefault();
    const target = region("sk-results");
    target.tabIndex = -1;
    target.focus({ preventScroll: true });
    target.scrollIntoView({ block: "start" });
  });
  const say = () => {
    const seen = [...box.querySelectorAll(SPOKEN)].filter((one) => one.offsetParent);
    const texts = seen.map((one) => one.textContent.trim()).filter(Boolean);
    const news = known === null ? undefined : texts.find((text) => !known.includes(text));
    if (texts.length) known = texts;
    if (news) line.textContent = news;
  };
  const changed = (records) => {
    if (records.every((one) => el.contains(one.target))) return;
    clearTimeout(timer);
    timer = setTimeout(say, REST_MS);
  };
  const watch = new MutationObserver(changed);
  const placed = requestAnimationFrame(() => {
    box = el.closest(".sk-board") ?? el.parentElement;
    describe();
    watch.observe(box, { subtree: true, childList: true, attributes: true, attributeFilter: ["style"] });
    timer = setTimeout(say, REST_MS);
  });
  model.on("change:words", describe);
  return () => {
    clearTimeout(timer);
    cancelAnimationFrame(placed);
    watch.disconnect();
    model.off("change:words", describe);
  };
}

export default { render };
