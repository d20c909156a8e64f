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
  const over = document.createElement("div"); // what is pointed at: a moment of the day, an activity
  over.className = "ridesim-over";
  over.setAttribute("aria-hidden", "true");
  const moment = document.createElement("div"); // the moment in words
  moment.className = "ridesim-moment";
  moment.setAttribute("role", "status");
  holder.append(canvas, over, moment, old);
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

  // Pointing. "reads" holds the frame of the plot in pixels, the clock at its ends, and what is to be read at every moment; all of it is in the page.
  let held = null;
  function readable() {
    const reads = model.get("reads");
    return reads.clock && !model.get("old") ? reads : null;
  }
  function line(left, width, className) {
    const made = document.createElement("div");
    made.className = className;
    made.style.left = `${left}px`;
    made.style.width = `${width}px`;
    return made;
  }
  function clear() {
    held = null;
    over.replaceChildren();
    moment.textContent = "";
  }
  function read(place) {
    const reads = readable();
    if (!reads) return clear();
    held = Math.min(Math.max(place, 0), reads.clock.length - 1);
    const [left, top, right, bottom] = reads.frame;
    const x = left + ((right - left) * held) / (reads.clock.length - 1);
    over.replaceChildren(line(x, 1, "ridesim-now"));
    over.style.top = `${top}px`;
    over.style.bottom = `${canvas.clientHeight - bottom}px`;
    moment.textContent = reads.words[held];
    moment.style.top = `${top + 2}px`;
    moment.style[x > (left + right) / 2 ? "right" : "left"] = `${x > (left + right) / 2 ? canvas.clientWidth - x + 8 : x + 8}px`;
    moment.style[x > (left + right) / 2 ? "left" : "right"] = "auto";
    return undefined;
  }
  canvas.addEventListener("pointermove", (event) => {
    const reads = readable();
    if (!reads) return;
    const [left, , right] = reads.frame;
    const x = event.clientX - canvas.getBoundingClientRect().left;
    if (x < left - 4 || x > right + 4) clear();
    else read(Math.round(((x - left) / (right - left)) * (reads.clock.length - 1)));
  });
  canvas.addEventListener("pointerleave", clear);
  canvas.addEventListener("blur", clear);
  canvas.addEventListener("focus", () => { if (held === null) read(0); });
  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1, PageDown: 12, PageUp: -12, Home: -1e6, End: 1e6 }[event.key];
    if (!step || !readable()) return;
    event.preventDefault();
    read((held === null ? 0 : held) + step);
  });
  function keys() {
    const can = Boolean(model.get("reads").clock);
    if (can) canvas.tabIndex = 0; else canvas.removeAttribute("tabindex");
    canvas.dataset.lmSuppressShortcuts = "true";
  }
  // An activity that is pointed at in the strip: its span here, or its slope's line.
  function pointed(event) {
    const act = event.detail;
    const reads = model.get("reads");
    if (!act) return clear();
    over.style.top = "0";
    over.style.bottom = "0";
    if (reads.clock) {
      const [left, top, right, bottom] = reads.frame;
      const at = (hour) => left + ((right - left) * (hour - reads.ends[0])) / (reads.ends[1] - reads.ends[0]);
      const span = line(at(act.start), Math.max(2, at(act.end) - at(act.start)), "ridesim-span");
      span.style.top = `${top}px`;
      span.style.height = `${bottom - top}px`;
      over.replaceChildren(span);
    } else if (reads.slopes) {
      const shown = (reads.slopes[act.place] || []).map(([x1, y1, x2, y2]) => {
        const slope = line(x1, Math.hypot(x2 - x1, y2 - y1), "ridesim-slope");
        slope.style.top = `${y1}px`;
        slope.style.transform = `rotate(${Math.atan2(y2 - y1, x2 - x1)}rad)`;
        return slope;
      });
      over.replaceChildren(...shown);
    }
    return undefined;
  }
  let desk = null;
  setTimeout(() => { desk = el.closest(".ridesim-desk"); desk?.addEventListener("ridesim-point", pointed); }, 0);
  model.on("change:reads", () => { keys(); if (held !== null) read(held); });
  keys();

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
    desk?.removeEventListener("ridesim-point", pointed);
  };
}

export default { render };
