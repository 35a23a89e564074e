// How the connection of this page stands. Its words come from the server.
window.scenariokitFrame = (() => {
  const words = JSON.parse(document.getElementById("scenariokit-words").textContent);
  const bar = document.getElementById("scenariokit-status");
  const text = bar.querySelector("span");
  const button = bar.querySelector("button");
  const Plain = window.WebSocket;
  const FINAL = ["died", "memory", "idle", "away", "left", "back", "failed"];
  const TOO_LARGE = 1009;
  const CUT_OFF = 1006;
  const LARGE_BYTES = 5e6;
  const SILENT_SECONDS = 16; // three words of the server that did not come
  const seconds = (since) => (Date.now() - since) / 1000;
  let kernel = "";
  let ended = "";
  let stopping = false;
  let news = { open: false, ever: false, lost: 0, tries: 0 };
  let heard = 0;
  let current = null; // the socket for news
  const lines = new Set(); // the sockets to the kernel that are open
  const channels = { open: 0, lost: 0, ever: false };
  const waiting = [];
  const AGAIN_MS = 300;
  const CONNECT_MS = 10000;
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
    current = socket;
    setTimeout(() => { if (socket.readyState === Plain.CONNECTING) socket.close(); }, CONNECT_MS);
    socket.addEventListener("message", (event) => {
      if (socket !== current) return;
      const { state } = JSON.parse(event.data);
      heard = Date.now();
      news = { open: true, ever: true, lost: 0, tries: 0 };
      if (FINAL.includes(state)) ended = state;
      while (!ended && waiting.length) waiting.shift()();
      stopping = state === "stopping";
      refresh();
    });
    socket.addEventListener("close", () => {
      if (socket !== current) return;
      if (news.open || !news.lost) news.lost = Date.now();
      news.open = false;
      news.tries += 1;
      if (!ended) setTimeout(listen, Math.min(5000, 500 * 2 ** news.tries) * (0.7 + 0.6 * Math.random()));
      refresh();
    });
  }

  // A line that is dead without a word (out of reach, asleep) keeps its sockets open for minutes.
  function doubt() {
    if (ended || !news.open || seconds(heard) < SILENT_SECONDS) return;
    const silent = current;
    news.open = false;
    news.lost = heard;
    listen();
    silent.close();
    // The page's own code tries anew once it hears of the end, which comes late on a dead line.
    for (const line of lines) {
      const told = line.onclose;
      line.onclose = null;
      line.close();
      told?.call(line, new CloseEvent("close", { code: CUT_OFF }));
    }
  }

  // A second socket to the kernel waits here until the server is known to be there: left alone, the
  // page's own code tries in vain, pauses up to half a minute after each try, and gives up at last.
  function held(address, more) {
    let real = null;
    let closed = false;
    const stand = {
      binaryType: "blob", protocol: "", onopen: null, onmessage: null, onclose: null, onerror: null,
      send: (data) => real.send(data),
      close: () => { closed = true; real?.close(); },
    };
    const connect = () => {
      if (closed) return;
      real = new Channels(address, ...more);
      real.binaryType = stand.binaryType;
      real.onopen = (event) => { stand.protocol = real.protocol; stand.onopen?.(event); };
      for (const name of ["onmessage", "onclose", "onerror"]) real[name] = (event) => stand[name]?.(event);
    };
    // Both sockets of a page are lost together, but which is told first is chance.
    setTimeout(() => { if (news.open) connect(); else waiting.push(connect); }, AGAIN_MS);
    return stand;
  }

  // The page's own code opens the channels to its kernel; whether they are open is seen from here.
  class Channels extends Plain {
    constructor(address, ...more) {
      super(address, ...more);
      this.last = 0;
      this.addEventListener("open", () => {
        channels.open += 1;
        channels.ever = true;
        refresh();
      });
      let counted = false;
      this.addEventListener("open", () => {
        counted = true;
        lines.add(this);
      });
      this.addEventListener("close", (event) => {
        lines.delete(this);
        if (counted) {
          channels.open -= 1;
          channels.lost = Date.now();
        }
        // The server's word for it may be lost when it hangs up on what still comes.
        const cut = event.code === CUT_OFF && this.last > LARGE_BYTES;
        if (cut || event.code === TOO_LARGE) largeUntil = Date.now() + 20000;
        refresh();
      });
    }

    send(data) {
      this.last = data.byteLength ?? data.size ?? data.length;
      super.send(data);
    }
  }

  window.WebSocket = class extends Plain {
    constructor(address, ...more) {
      if (!String(address).includes("/channels")) super(address, ...more);
      else return channels.ever ? held(address, more) : new Channels(address, ...more);
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
    setInterval(() => {
      doubt();
      refresh();
    }, 1000);
  });
  window.addEventListener("pagehide", () => {
    if (kernel) navigator.sendBeacon(`/room/leave/${kernel}`);
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) window.location.reload(); // its board ended when it was left
  });
  return { begin, place, say };
})();
