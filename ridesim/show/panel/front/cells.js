// A grid of cells drawn by the kernel: one is chosen by a press, or by the arrow keys and Enter.
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "ridesim-cells";
  box.dataset.lmSuppressShortcuts = "true";
  const words = document.createElement("p");
  const key = document.createElement("p");
  key.className = "ridesim-quiet";
  const others = document.createElement("p");
  others.className = "ridesim-others";
  others.dataset.lmSuppressShortcuts = "true";
  el.append(words, others, box, key);
  let presses = 0;

  function fill() {
    const at = box.contains(document.activeElement) ? document.activeElement.dataset : null;
    words.textContent = model.get("sentence");
    key.textContent = model.get("note");
    box.innerHTML = model.get("svg");
    const held = others.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    others.replaceChildren(...model.get("others").map(([name, label, shown]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.key = name;
      button.textContent = label;
      button.setAttribute("aria-pressed", String(shown));
      button.addEventListener("click", () => { model.set("other", [name, (presses += 1), Date.now()]); model.save_changes(); });
      return button;
    }));
    if (held) others.querySelector(`[data-key="${held}"]`)?.focus();
    if (at) box.querySelector(`[data-row="${at.row}"][data-column="${at.column}"]`)?.focus();
  }

  function press(cell) {
    model.set("pressed", [Number(cell.dataset.small), Number(cell.dataset.large), (presses += 1), Date.now()]);
    model.save_changes();
  }

  box.addEventListener("click", (event) => {
    const cell = event.target.closest(".ridesim-cell");
    if (cell) press(cell);
  });
  box.addEventListener("keydown", (event) => {
    const cell = event.target.closest(".ridesim-cell");
    if (!cell) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      press(cell);
      return;
    }
    const way = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] }[event.key];
    if (!way) return;
    event.preventDefault();
    const next = box.querySelector(`[data-row="${Number(cell.dataset.row) + way[0]}"][data-column="${Number(cell.dataset.column) + way[1]}"]`);
    if (!next) return;
    cell.setAttribute("tabindex", "-1");
    next.setAttribute("tabindex", "0");
    next.focus();
  });
  for (const name of ["svg", "sentence", "note", "others"]) model.on(`change:${name}`, fill);
  fill();
}

export default { render };
