// A row of named controls: number with slider, text, choice, press. The page says what was typed; the kernel says what it means.
function element(tag, attributes, ...inner) {
  const made = document.createElement(tag);
  // JupyterLab would take the arrow keys and Enter for its cells; in boxes with text it knows better by itself.
  if (tag === "button" || tag === "select" || (attributes && attributes.type === "range")) made.dataset.lmSuppressShortcuts = "true";
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value !== undefined && value !== null && value !== "") made.setAttribute(name, value);
  }
  made.append(...inner);
  return made;
}

let counted = 0;

// "Motor teeth" of the group "Heron, 36 V" is read out as "Motor teeth, Heron, 36 V".
function spoken(words, group) {
  return group ? `${words}, ${group}` : words;
}

function render({ model, el }) {
  const boxes = new Map();
  const sliders = new Map();
  let timer = 0;
  let presses = 0;

  function say() {
    const typed = {};
    for (const [key, box] of boxes) typed[key] = box.value;
    model.set("typed", typed);
    model.save_changes();
  }

  function number(field, group) {
    const id = `ridesim-${(counted += 1)}`;
    const name = field.unit ? `${field.label}, ${field.unit}` : field.label;
    const box = element("input", {
      id, type: "text", inputmode: "decimal", class: "ridesim-box", autocomplete: "off", "aria-label": spoken(name, group), "data-spoken": name,
      title: `${name}: type a value and press Enter, or use the arrow keys`,
    });
    const slider = element("input", {
      type: "range", class: "ridesim-slider", min: field.low, max: field.high, step: field.step, "aria-label": spoken(`${name}, slider`, group),
      "data-spoken": `${name}, slider`,
    });
    slider.addEventListener("input", () => { box.value = slider.value; say(); });
    box.addEventListener("change", () => { follow(); say(); });
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter") { follow(); say(); }
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way) return;
      const before = Number(box.value);
      if (box.value.trim() === "" || !Number.isFinite(before)) return;
      event.preventDefault();
      box.value = String(Number((before + way * field.step).toPrecision(12)));
      follow();
      say();
    });
    function follow() {
      const value = Number(box.value);
      if (box.value.trim() !== "" && Number.isFinite(value)) slider.value = String(value);
    }
    boxes.set(field.key, box);
    sliders.set(field.key, follow);
    const label = element("label", { for: id, class: "ridesim-label" }, field.label);
    const line = element("span", { class: "ridesim-line" }, slider, box);
    if (field.unit) line.append(element("span", { class: "ridesim-unit", "aria-hidden": "true" }, field.unit));
    return element("span", { class: "ridesim-number", "data-key": field.key }, label, line);
  }

  function text(field, group) {
    const id = `ridesim-${(counted += 1)}`;
    const box = element("input", {
      id, type: "text", class: "ridesim-text", autocomplete: "off", spellcheck: "false", "aria-label": spoken(field.label, group), "data-spoken": field.label,
    });
    if (field.options && field.options.length) {
      box.setAttribute("list", `${id}-list`);
    }
    box.addEventListener("change", say);
    box.addEventListener("keydown", (event) => { if (event.key === "Enter") say(); });
    boxes.set(field.key, box);
    const made = element("span", { class: "ridesim-worded", "data-key": field.key });
    if (field.swatch) made.append(swatch(field.swatch));
    made.append(element("label", { for: id, class: field.hide_label ? "ridesim-unseen" : "ridesim-label" }, field.label), box);
    if (field.options && field.options.length) {
      made.append(element("datalist", { id: `${id}-list` }, ...field.options.map((each) => element("option", { value: each }))));
    }
    return made;
  }

  function swatch(index) {
    const space = "http://www.w3.org/2000/svg";
    const drawing = document.createElementNS(space, "svg");
    drawing.setAttribute("viewBox", "0 0 34 12");
    drawing.setAttribute("class", `ridesim-swatch ridesim-colour-${index}`);
    drawing.setAttribute("aria-hidden", "true");
    const line = document.createElementNS(space, "line");
    for (const [name, value] of Object.entries({ x1: 1, y1: 6, x2: 33, y2: 6, "stroke-width": 3, stroke: "currentColor" })) line.setAttribute(name, value);
    line.setAttribute("stroke-dasharray", ["", "8 3", "9 3 2 3", "2 2.5"][index - 1]);
    drawing.append(line);
    return drawing;
  }

  function choice(field) {
    const id = `ridesim-${(counted += 1)}`;
    const box = element("select", { id, class: "ridesim-choice" }, ...field.options.map((each) => element("option", { value: each[0] }, each[1])));
    box.addEventListener("change", say);
    boxes.set(field.key, box);
    return element("span", { class: "ridesim-worded", "data-key": field.key }, element("label", { for: id, class: "ridesim-label" }, field.label), box);
  }

  function press(field, group) {
    const button = element("button", {
      type: "button", class: "ridesim-press", title: field.tip, "aria-label": spoken(field.label, group), "data-spoken": field.label, "data-key": field.key,
    }, field.label);
    button.addEventListener("click", () => {
      if (timer) clearTimeout(timer);
      say();
      model.set("pressed", [field.key, (presses += 1), Date.now()]);
      model.save_changes();
    });
    return button;
  }

  const makers = { number, text, choice, press };
  const row = element("div", { class: `ridesim-controls ridesim-${model.get("shape")}`, role: "group" });
  el.append(row);

  function build() {
    const active = document.activeElement;
    const kept = active && row.contains(active) ? active.closest("[data-key]")?.dataset.key : null;
    const group = model.get("group");
    row.setAttribute("aria-label", group || "controls");
    boxes.clear();
    sliders.clear();
    row.replaceChildren(...model.get("fields").map((field) => makers[field.kind](field, group)));
    // What is typed is what the kernel reckons with; "texts" is only what it last put here itself. A reloaded page gets both.
    fill({ ...model.get("texts"), ...model.get("typed") });
    judge();
    if (kept) row.querySelector(`[data-key="${kept}"] input, [data-key="${kept}"] select, button[data-key="${kept}"]`)?.focus();
  }

  function fill(texts) {
    for (const [key, box] of boxes) {
      if (texts[key] !== undefined && box.value !== texts[key]) box.value = texts[key];
    }
    for (const follow of sliders.values()) follow();
  }

  function judge() {
    const problems = model.get("problems");
    const marks = model.get("marks");
    for (const [key, box] of boxes) {
      const holder = box.closest("[data-key]");
      if (problems[key]) { box.setAttribute("aria-invalid", "true"); box.title = problems[key]; } else { box.removeAttribute("aria-invalid"); box.title = marks[key] || ""; }
      holder.classList.toggle("ridesim-changed", Boolean(marks[key]));
    }
  }

  function rename() {
    const group = model.get("group");
    row.setAttribute("aria-label", group || "controls");
    for (const each of row.querySelectorAll("[data-spoken]")) each.setAttribute("aria-label", spoken(each.dataset.spoken, group));
  }

  model.on("change:group", rename);
  model.on("change:fields", build);
  model.on("change:texts", () => fill(model.get("texts")));
  model.on("change:problems change:marks", judge);
  build();
}

export default { render };
