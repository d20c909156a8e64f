// Which pictures are shown, and what is opened below: one of the tabs, any of the switches.
function render({ model, el }) {
  const row = document.createElement("div");
  row.className = "ridesim-tabs";
  el.append(row);

  function button([key, label, on], kind) {
    const made = document.createElement("button");
    made.type = "button";
    made.dataset.key = key;
    made.textContent = label;
    made.dataset.lmSuppressShortcuts = "true";
    if (kind === "tab") made.setAttribute("aria-pressed", String(on));
    else made.setAttribute("aria-expanded", String(on));
    made.addEventListener("click", () => {
      model.set("pressed", [key, Date.now()]);
      model.save_changes();
    });
    return made;
  }

  function fill() {
    const focused = row.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    const gap = document.createElement("span");
    gap.className = "ridesim-gap";
    row.replaceChildren(...model.get("tabs").map((each) => button(each, "tab")), gap, ...model.get("switches").map((each) => button(each, "switch")));
    if (focused) row.querySelector(`[data-key="${focused}"]`)?.focus();
  }

  model.on("change:tabs change:switches", fill);
  fill();
}

export default { render };
