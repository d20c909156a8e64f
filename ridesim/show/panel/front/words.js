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
  let met = !model.get("live");
  function fill() {
    box.innerHTML = model.get("html");
    box.dataset.serial = String(model.get("serial"));
    if (met || !box.textContent || box.querySelector(".ridesim-working")) return;
    met = true;
    setTimeout(() => meet(el.closest(".ridesim-desk")), 100);
  }
  // One status line a panel watches the kernel: a panel that looks alive without one is worse than none.
  if (model.get("live")) {
    watch(model, el, box);
    window.removeEventListener("keydown", window.ridesimPass, true); // one for all panels of a page
    window.ridesimPass = passShortcuts;
    window.addEventListener("keydown", passShortcuts, true);
  }
  model.on("change:html", fill);
  model.on("change:serial", () => { box.dataset.serial = String(model.get("serial")); });
  fill();
}

// Our controls keep JupyterLab's shortcuts from taking arrow keys and letters; those with Ctrl (saving, for one) go through, but for undo and redo.
function passShortcuts(event) {
  const held = event.target.closest?.(".ridesim-desk [data-lm-suppress-shortcuts]");
  if (!held || !(event.ctrlKey || event.metaKey) || "zy".includes(event.key.toLowerCase())) return;
  held.removeAttribute("data-lm-suppress-shortcuts");
  setTimeout(() => held.setAttribute("data-lm-suppress-shortcuts", "true"), 0);
}

// Running all cells leaves the page at the last one: the first answer of the first panel is brought into sight.
function meet(desk) {
  if (!desk || desk !== document.querySelector(".ridesim-desk")) return;
  const { top, bottom } = desk.getBoundingClientRect();
  if (bottom < 100 || top > window.innerHeight - 200) desk.scrollIntoView({ block: "start" });
}

const GONE = ["dead", "starting", "restarting", "autorestarting", "terminating", "unknown"];

function watch(model, el, box) {
  const kernel = model.widget_manager?.kernel || model.widget_manager?.context?.sessionContext?.session?.kernel;
  if (!kernel) return;
  let busy = 0;
  function lost() {
    clearTimeout(busy);
    const gone = kernel.isDisposed || GONE.includes(kernel.status) || kernel.connectionStatus === "disconnected";
    const desk = el.closest(".ridesim-desk");
    if (gone && desk && !desk.classList.contains("ridesim-lost")) {
      desk.classList.add("ridesim-lost");
      box.innerHTML = '<span class="ridesim-problem"><b>The kernel has ended. </b>What is shown is old. Run all cells to go on; what was typed is kept.</span>';
    }
    if (!gone && kernel.status === "busy") busy = setTimeout(() => el.closest(".ridesim-desk")?.classList.add("ridesim-busy"), 2000);
    else el.closest(".ridesim-desk")?.classList.remove("ridesim-busy");
  }
  kernel.statusChanged?.connect(lost);
  kernel.connectionStatusChanged?.connect(lost);
  kernel.disposed?.connect(lost);
}

export default { render };
