// Words from the kernel: a table, findings, a status line. A status line is read out when it changes.
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = `ridesim-words ${model.get("shape")}`;
  if (model.get("live")) {
    box.setAttribute("role", "status");
    box.setAttribute("aria-live", "polite");
  }
  if (model.get("name")) {
    box.setAttribute("role", model.get("live") ? "status" : "region");
    box.setAttribute("aria-label", model.get("name"));
    if (!model.get("live")) {
      box.tabIndex = 0; // so that the keyboard can scroll it
      box.dataset.lmSuppressShortcuts = "true";
    }
  }
  el.append(box);
  if (!model.get("live")) el.classList.add("ridesim-fills");
  function fill() {
    box.innerHTML = model.get("html");
    box.dataset.serial = String(model.get("serial"));
  }
  model.on("change:html", fill);
  model.on("change:serial", () => { box.dataset.serial = String(model.get("serial")); });
  fill();
}

export default { render };
