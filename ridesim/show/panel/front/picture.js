// A picture on a canvas: the new one is drawn only when it is fully decoded, so that no blank frame is ever shown.
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
  const pen = canvas.getContext("2d");
  let shown = 0;

  async function draw() {
    const serial = model.get("serial");
    const bytes = model.get("png");
    if (!bytes || !bytes.byteLength) return;
    const [alt, words, whole] = [model.get("alt"), model.get("sentence"), model.get("whole")];
    const picture = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
    if (serial < shown) return;
    shown = serial;
    // Changing a canvas's size wipes it; the drawing below comes in the same task, before anything is shown.
    if (canvas.width !== picture.width || canvas.height !== picture.height) {
      canvas.width = picture.width;
      canvas.height = picture.height;
    }
    pen.drawImage(picture, 0, 0);
    picture.close();
    canvas.setAttribute("aria-label", alt);
    if (caption.textContent !== words) caption.textContent = words;
    canvas.dataset.whole = String(whole);
    canvas.dataset.serial = String(serial);
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
    if (box.width < 40 || box.height < 40) return;
    const view = [Math.round(box.width), Math.round(box.height), Math.min(3, window.devicePixelRatio || 1), dark() ? 1 : 0];
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
