// A drawing whose blocks are moved by mouse, finger or arrow keys. The kernel draws; the page carries the block along until the kernel has followed.
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "ridesim-side-box";
  box.dataset.lmSuppressShortcuts = "true";
  el.append(box);
  let held = null; // the block under the pointer: its key, where the pointer took it, where it was, where it is now [m]
  let ahead = null; // where keys have moved a block that the kernel has not followed yet
  let said = 0;
  let waiting = false;

  const block = (key) => [...box.querySelectorAll(".ridesim-mass")].find((each) => each.dataset.key === key);
  const step = () => Number(box.querySelector("svg").dataset.step); // what a press of a key moves [m]
  const round = (metres) => Number((Math.round(metres / step()) * step()).toFixed(6));

  function metres() {
    const svg = box.querySelector("svg");
    return 1 / (svg.getScreenCTM().a * Number(svg.dataset.pixels));
  }

  function say(key, x, z) {
    model.set("moved", [key, x, z, (said += 1), Date.now()]);
    model.save_changes();
  }

  function choose(key) {
    if (model.get("chosen") === key) return;
    model.set("chosen", key);
    model.save_changes();
  }

  // A block stands where the pointer or the keys have it, and not where the kernel's last drawing has it.
  function carry() {
    const to = held || ahead;
    const at = to && block(to.key);
    if (!at) return;
    const pixels = Number(box.querySelector("svg").dataset.pixels);
    at.setAttribute("transform", `translate(${(to.x - Number(at.dataset.x)) * pixels} ${(Number(at.dataset.z) - to.z) * pixels})`);
    if (to === ahead && round(Number(at.dataset.x)) === to.x && round(Number(at.dataset.z)) === to.z) ahead = null;
  }

  function fill() {
    const focused = box.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    box.innerHTML = model.get("svg");
    box.dataset.serial = String(model.get("serial"));
    carry();
    if (focused) block(focused)?.focus();
  }

  box.addEventListener("pointerdown", (event) => {
    const at = event.target.closest(".ridesim-mass");
    if (!at || event.button !== 0) return;
    event.preventDefault();
    ahead = null;
    at.focus();
    const [x, z] = [Number(at.dataset.x), Number(at.dataset.z)];
    held = { key: at.dataset.key, fromX: event.clientX, fromY: event.clientY, atX: x, atZ: z, x, z, moved: false };
    box.setPointerCapture(event.pointerId);
    choose(held.key);
  });
  box.addEventListener("pointermove", (event) => {
    if (!held) return;
    const one = metres();
    held.x = round(held.atX + (event.clientX - held.fromX) * one);
    held.z = Math.max(0, round(held.atZ - (event.clientY - held.fromY) * one));
    held.moved ||= held.x !== round(held.atX) || held.z !== round(held.atZ);
    carry();
    if (waiting || !held.moved) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; if (held) say(held.key, held.x, held.z); });
  });
  const drop = () => {
    if (held?.moved) say(held.key, held.x, held.z);
    held = null;
  };
  box.addEventListener("pointerup", drop);
  box.addEventListener("pointercancel", drop);
  box.addEventListener("focusin", (event) => { if (event.target.dataset.key) choose(event.target.dataset.key); });
  box.addEventListener("keydown", (event) => {
    const at = event.target.closest(".ridesim-mass");
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!at || !way) return;
    event.preventDefault();
    const by = step() * (event.shiftKey ? 10 : 1);
    const from = ahead?.key === at.dataset.key ? ahead : { x: Number(at.dataset.x), z: Number(at.dataset.z) };
    ahead = { key: at.dataset.key, x: round(from.x + way[0] * by), z: Math.max(0, round(from.z + way[1] * by)) };
    carry();
    if (ahead) say(ahead.key, ahead.x, ahead.z);
  });
  model.on("change:svg", fill);
  fill();
}

export default { render };
