// Asks the kernel at a steady pace, one question at a time; it has nothing to look at.

const PATIENCE = 10; // an answer that never came, after a lost connection, must not end the pulse

function render({ model, el }) {
  el.hidden = true;
  let timer = 0;
  const ask = () => {
    model.send({ kind: "tick" });
    timer = setTimeout(ask, 1000 * PATIENCE * model.get("seconds"));
  };
  const rest = () => {
    clearTimeout(timer);
    timer = setTimeout(ask, 1000 * model.get("seconds"));
  };
  const answered = (content) => {
    if (content.kind === "tock") rest();
  };
  model.on("msg:custom", answered);
  model.on("change:seconds", rest);
  rest();
  return () => {
    clearTimeout(timer);
    model.off("msg:custom", answered);
    model.off("change:seconds", rest);
  };
}

export default { render };
