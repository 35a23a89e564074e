// Not waited for: other widgets are made meanwhile.
function initialize() {
  fetched()
    .then((found) => found.default.initialize())
    .catch((error) => {
      console.error("scenariokit: the drawing code could not be fetched", error);
      gate().refuse(error);
    });
}

function render() {
  initialize();
}

export default { initialize, render };
