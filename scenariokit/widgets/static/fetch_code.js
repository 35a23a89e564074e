// Fetches code from the page's own server, where it is packed and the browser keeps it.

const ADDRESS = "__ADDRESS__";
const AGAIN_MS = [500, 2000, 8000]; // a crowded network loses a request now and then

// A browser may keep in mind that an address failed: each attempt asks at one of its own.
async function fetched() {
  const address = new URL(ADDRESS, document.baseURI).href;
  for (const [number, pause] of AGAIN_MS.entries()) {
    try {
      return await import(number ? `${address}?again=${number}` : address);
    } catch (error) {
      console.warn("scenariokit: code did not arrive; asked for again", error);
      await new Promise((done) => setTimeout(done, pause));
    }
  }
  return import(`${address}?again=${AGAIN_MS.length}`);
}

