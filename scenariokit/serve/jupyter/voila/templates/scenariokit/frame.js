// How the connection of this page stands. Its words come from the server.
window.scenariokitFrame = (() => {
  const words = JSON.parse(document.getElementById("scenariokit-words").textContent);
  const bar = document.getElementById("scenariokit-status");
  const text = bar.querySelector("span");
  const button = bar.querySelector("button");
  const Plain = window.WebSocket;
  const FINAL = ["died", "memory", "idle", "away", "left", "back", "failed"];
  const TOO_LARGE = 1009;
  const seconds = (since) => (Date.now() - since) / 1000;
  let kernel = "";
  let ended = "";
  let stopping = false;
  let news = { open: false, ever: false, lost: 0, tries: 0 };
  const channels = { open: 0, lost: 0, ever: false };
  let largeUntil = 0;

  button.textContent = words.reload;
  button.addEventListener("click", () => window.location.reload());

  function show(key, reload = false) {
    const said = key ? words[key] : "";
    if (text.textContent !== said) text.textContent = said;
    button.hidden = !reload;
    bar.hidden = !said;
    bar.dataset.state = key;
  }

  function refresh() {
    if (ended) return show(ended, true);
    if (news.ever && !news.open) {
      const gone = seconds(news.lost);
      if (stopping) return show("stopped", gone > 3);
      if (gone > 30) return show("gone", true);
      if (gone > 1.5) return show("lost");
      return undefined;
    }
    if (stopping) return show("stopping");
    if (Date.now() < largeUntil) return show("large");
    if (channels.ever && !channels.open && seconds(channels.lost) > 1.5) {
      const stuck = seconds(channels.lost) > 60;
      return show(stuck ? "stuck" : "lost", stuck);
    }
    return show("");
  }

  function listen() {
    const scheme = window.location.protocol === "https:" ? "wss:" : "ws:";
    const socket = new Plain(`${scheme}//${window.location.host}/room/news/${kernel}`);
    socket.addEventListener("message", (event) => {
      const { state } = JSON.parse(event.data);
      news = { open: true, ever: true, lost: 0, tries: 0 };
      if (FINAL.includes(state)) ended = state;
      stopping = state === "stopping";
      refresh();
    });
    socket.addEventListener("close", () => {
      if (news.open || !news.lost) news.lost = Date.now();
      news.open = false;
      news.tries += 1;
      if (!ended) setTimeout(listen, Math.min(5000, 500 * 2 ** news.tries) * (0.7 + 0.6 * Math.random()));
      refresh();
    });
  }

  // The page's own code opens the channels to its kernel; whether they are open is seen from here.
  window.WebSocket = class extends Plain {
    constructor(address, ...more) {
      super(address, ...more);
      if (!String(address).includes("/channels")) return;
      this.addEventListener("open", () => {
        channels.open += 1;
        channels.ever = true;
        refresh();
      });
      let counted = false;
      this.addEventListener("open", () => { counted = true; });
      this.addEventListener("close", (event) => {
        if (counted) {
          channels.open -= 1;
          channels.lost = Date.now();
        }
        if (event.code === TOO_LARGE) largeUntil = Date.now() + 20000;
        refresh();
      });
    }
  };

  function begin() {
    document.getElementById("loading_text").textContent = words.making;
    window.voila_process = () => {};
  }

  function place(number) {
    const said = number > 1 ? words.place.replace("%n", String(number)) : words.making;
    document.getElementById("loading_text").textContent = said;
  }

  function say(state) {
    document.getElementById("loading").style.display = "none";
    ended = state === "stopping" ? "stopped" : state;
    refresh();
  }

  document.addEventListener("DOMContentLoaded", () => {
    const data = document.getElementById("jupyter-config-data");
    if (!data) return;
    kernel = JSON.parse(data.textContent).kernelId;
    listen();
    setInterval(refresh, 1000);
  });
  window.addEventListener("pagehide", () => {
    if (kernel) navigator.sendBeacon(`/room/leave/${kernel}`);
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) window.location.reload(); // its board ended when it was left
  });
  return { begin, place, say };
})();
