// A drawing that scrolls sideways and is never shrunk; a press on one of its lines chooses it.
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "ridesim-diagram";
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", model.get("name"));
  box.tabIndex = 0; // so that the keyboard can scroll it
  box.dataset.lmSuppressShortcuts = "true";
  el.append(box);
  let presses = 0;

  function mark() {
    for (const line of box.querySelectorAll(".ridesim-line")) {
      line.classList.toggle("ridesim-chosen", Number(line.dataset.circuit) === model.get("chosen"));
    }
  }

  function fill() {
    const left = box.scrollLeft;
    box.innerHTML = model.get("svg");
    box.scrollLeft = left;
    const svg = box.querySelector("svg");
    if (svg) {
      const { width, height } = svg.viewBox.baseVal;
      svg.setAttribute("width", width);
      svg.setAttribute("height", height);
    }
    mark();
  }

  box.addEventListener("click", (event) => {
    const line = event.target.closest(".ridesim-line");
    if (!line) return;
    model.set("pressed", [Number(line.dataset.circuit), (presses += 1), Date.now()]);
    model.save_changes();
  });
  model.on("change:svg", fill);
  model.on("change:chosen", mark);
  fill();
}

export default { render };
