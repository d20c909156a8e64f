// A picture on a canvas. It comes as runs of one colour, drawn in the same task as its message: no blank frame, no waiting for a decoder.

// First all colours, then all lengths, as whole numbers of four bytes; 0 leaves what lies below.
function unpack(bytes, pixels) {
  const runs = new Uint32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
  const count = runs.length / 2;
  let place = 0;
  for (let i = 0; i < count; i += 1) {
    const end = place + runs[count + i];
    if (runs[i]) pixels.fill(runs[i], place, end);
    place = end;
  }
}

function render({ model, el }) {
  const figure = document.createElement("figure");
  figure.className = "ridesim-picture";
  const holder = document.createElement("div");
  holder.className = "ridesim-holder";
  const canvas = document.createElement("canvas");
  canvas.setAttribute("role", "img");
  const old = document.createElement("div");
  old.className = "ridesim-old";
  old.textContent = "old: shows the last values that worked";
  const caption = document.createElement("figcaption");
  holder.append(canvas, old);
  figure.append(holder, caption);
  el.append(figure);
  el.classList.add("ridesim-fills");
  const pen = canvas.getContext("2d", { alpha: false });

  let below = null; // the layer as its bytes came, and its pixels
  let still = null;
  let sheet = null;

  function draw() {
    const [base, over, [width, height]] = [model.get("base"), model.get("over"), model.get("size")];
    if (!width || !base.byteLength) return;
    if (canvas.width !== width || canvas.height !== height || !sheet) {
      canvas.width = width; // wipes the canvas; what is drawn below comes in the same task, before anything is shown
      canvas.height = height;
      sheet = new ImageData(width, height);
      below = null;
    }
    if (below !== base) {
      below = base;
      still = new Uint32Array(width * height);
      unpack(base, still);
    }
    const pixels = new Uint32Array(sheet.data.buffer);
    pixels.set(still);
    unpack(over, pixels);
    pen.putImageData(sheet, 0, 0);
    canvas.setAttribute("aria-label", model.get("alt"));
    const words = model.get("sentence");
    if (caption.textContent !== words) caption.textContent = words;
    canvas.dataset.whole = String(model.get("whole"));
    canvas.dataset.serial = String(model.get("serial"));
  }

  function mark() {
    figure.classList.toggle("ridesim-is-old", model.get("old"));
  }

  function dark() {
    const body = document.body.dataset;
    if (body.jpThemeLight !== undefined) return body.jpThemeLight === "false";
    return window.matchMedia("(prefers-color-scheme: dark)").matches;
  }

  let waiting = 0;
  function measure() {
    waiting = 0;
    const box = holder.getBoundingClientRect();
    // Not laid out (scrolled out of the lab's window, or hidden for a moment while a theme loads): the size stays, the theme still counts.
    const shown = box.width >= 40 && box.height >= 40;
    const [width, height] = shown ? [Math.round(box.width), Math.round(box.height)] : model.get("view");
    const view = [width, height, Math.min(3, window.devicePixelRatio || 1), dark() ? 1 : 0];
    if (JSON.stringify(view) === JSON.stringify(model.get("view"))) return;
    model.set("view", view);
    model.save_changes();
  }
  function soon() {
    if (!waiting) waiting = setTimeout(measure, 60);
  }

  model.on("change:serial", draw);
  model.on("change:old", mark);
  const sizes = new ResizeObserver(soon);
  sizes.observe(holder);
  const themes = new MutationObserver(soon);
  themes.observe(document.body, { attributes: true, attributeFilter: ["data-jp-theme-light", "data-jp-theme-name"] });
  draw();
  mark();
  return () => {
    sizes.disconnect();
    themes.disconnect();
  };
}

export default { render };
