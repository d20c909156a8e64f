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

// Every row loads this file for itself: its names must differ from the other rows' ones.
const own = Math.random().toString(36).slice(2, 8);
let counted = 0;

// "Motor teeth" of the group "Heron, 36 V" is read out as "Motor teeth, Heron, 36 V".
function spoken(words, group) {
  return group ? `${words}, ${group}` : words;
}

function render({ model, el }) {
  const boxes = new Map();
  const sliders = new Map();
  const tracks = new Map();
  let building = false;
  let timer = 0;
  let presses = 0;
  let whose = model.get("whose");

  function say() {
    if (building) return; // a box that is replaced while it has the focus says once more that it changed
    const typed = {};
    const touched = [];
    for (const [key, box] of boxes) {
      typed[key] = box.value;
      box.dataset.said = box.value;
      if (box.value !== box.dataset.put) touched.push(key); // the others hold what the kernel put there, perhaps not its newest
    }
    typed.touched = touched.join(" ");
    if (model.get("whose")) typed.whose = model.get("whose");
    model.set("typed", typed);
    model.save_changes();
  }

  function number(field, group) {
    const id = `ridesim-${own}-${(counted += 1)}`;
    const name = field.unit ? `${field.label}, ${field.unit}` : field.label;
    const box = element("input", {
      id, type: "text", inputmode: "decimal", class: "ridesim-box", autocomplete: "off", "aria-label": spoken(name, group), "data-spoken": name,
      title: `${name}: type a value and press Enter, or use the arrow keys`,
    });
    const stops = field.stops || [];
    const slider = element("input", {
      type: "range", class: "ridesim-slider", min: stops.length ? 0 : field.low, max: stops.length ? stops.length - 1 : field.high,
      step: stops.length ? 1 : field.step, "aria-label": spoken(`${name}, slider`, group), "data-spoken": `${name}, slider`,
    });
    slider.addEventListener("input", () => { box.value = stops.length ? String(stops[Number(slider.value)]) : slider.value; say(); });
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
      if (box.value.trim() === "" || !Number.isFinite(value)) return;
      // Between two stops the slider shows the nearer one; what was typed counts.
      slider.value = String(stops.length ? stops.reduce((best, stop, place) => (Math.abs(stop - value) < Math.abs(stops[best] - value) ? place : best), 0) : value);
      slider.setAttribute("aria-valuetext", `${box.value}${field.unit ? ` ${field.unit}` : ""}`);
    }
    boxes.set(field.key, box);
    sliders.set(field.key, follow);
    const label = element("label", { for: id, class: "ridesim-label" }, field.label);
    const typed = element("span", { class: "ridesim-line" }, label, box);
    if (field.unit) typed.append(element("span", { class: "ridesim-unit", "aria-hidden": "true" }, field.unit));
    return element("span", { class: "ridesim-number", "data-key": field.key }, typed, track(field, stops, slider));
  }

  // The track behind a slider: its stops, filled where something of that size is in a file already.
  function track(field, stops, slider) {
    const made = element("span", { class: "ridesim-track" });
    made.append(element("span", { class: "ridesim-rail", "aria-hidden": "true" }));
    stops.forEach((stop, index) => {
      const owned = (field.owned || []).includes(stop);
      if (stops.length > 26 && !owned) return;
      const dot = element("span", { class: `ridesim-stop-dot${owned ? " ridesim-owned" : ""}`, "aria-hidden": "true" });
      dot.style.left = place(stops, index);
      made.append(dot);
    });
    made.append(slider);
    tracks.set(field.key, [made, stops]);
    return made;
  }

  function place(stops, index) {
    return `calc(8px + (100% - 16px) * ${stops.length > 1 ? index / (stops.length - 1) : 0})`;
  }

  // Where a wish of the day fails, behind the tracks; drawn without touching the boxes, in which somebody may be typing.
  function hatch() {
    for (const [key, [made, stops]] of tracks) {
      made.querySelectorAll(".ridesim-hatch, .ridesim-fails").forEach((each) => each.remove());
      for (const [from, to, words] of model.get("hatches")[key] || []) {
        const shade = element("span", { class: "ridesim-hatch", title: words });
        shade.style.left = `calc(${place(stops, Math.max(0, from - 0.5))} - ${from === 0 ? 8 : 0}px)`;
        shade.style.right = `calc(100% - ${place(stops, Math.min(stops.length - 1, to + 0.5))} - ${to === stops.length - 1 ? 8 : 0}px)`;
        const said = element("span", { class: "ridesim-fails" }, words);
        const middle = (from + to) / 2 / Math.max(1, stops.length - 1);
        said.style.left = place(stops, (from + to) / 2);
        said.style.transform = `translateX(-${middle < 0.15 ? 20 : middle > 0.85 ? 80 : 50}%)`; // within the track's ends
        made.firstChild.after(shade);
        made.append(said);
      }
    }
  }

  function text(field, group) {
    const id = `ridesim-${own}-${(counted += 1)}`;
    const box = element("input", {
      id, type: "text", class: "ridesim-text", autocomplete: "off", spellcheck: "false", "aria-label": spoken(field.label, group), "data-spoken": field.label,
    });
    if (field.options && field.options.length) {
      box.setAttribute("list", `${id}-list`);
    }
    box.addEventListener("change", say);
    box.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      say();
      if (field.enter) { model.set("pressed", [field.enter, (presses += 1), Date.now()]); model.save_changes(); }
    });
    boxes.set(field.key, box);
    const made = element("span", { class: "ridesim-worded", "data-key": field.key });
    made.append(element("label", { for: id, class: "ridesim-label" }, field.label), box);
    if (field.options && field.options.length) {
      made.append(element("datalist", { id: `${id}-list` }, ...field.options.map((each) => element("option", { value: each }))));
    }
    return made;
  }

  function choice(field) {
    const id = `ridesim-${own}-${(counted += 1)}`;
    const box = element("select", { id, class: "ridesim-choice" }, ...field.options.map((each) => element("option", { value: each[0] }, each[1])));
    box.addEventListener("change", say);
    boxes.set(field.key, box);
    return element("span", { class: "ridesim-worded", "data-key": field.key }, element("label", { for: id, class: "ridesim-label" }, field.label), box);
  }

  function press(field, group) {
    const button = element("button", {
      type: "button", class: "ridesim-press", title: field.tip, "aria-label": spoken(field.label, group), "data-spoken": field.label, "data-key": field.key,
    }, field.label);
    if (field.off) button.disabled = true;
    button.addEventListener("click", () => {
      if (timer) clearTimeout(timer);
      say();
      model.set("pressed", [field.key, (presses += 1), Date.now()]);
      model.save_changes();
    });
    return button;
  }

  // Buttons that have a key, pressed with Ctrl anywhere in the panel; a box whose text is not said yet has an undo of its own.
  function pressByKey(event) {
    const field = (event.ctrlKey || event.metaKey) && model.get("fields").find((each) => each.ctrl && each.ctrl === event.key.toLowerCase());
    const box = event.target;
    if (!field || (box.dataset.said !== undefined && box.value !== box.dataset.said)) return;
    event.preventDefault();
    event.stopPropagation();
    if (field.off) return;
    model.set("pressed", [field.key, (presses += 1), Date.now()]);
    model.save_changes();
  }
  let desk = null;
  setTimeout(() => { desk = el.closest(".ridesim-desk"); desk?.addEventListener("keydown", pressByKey); }, 0);

  const makers = { number, text, choice, press };
  const row = element("div", { class: `ridesim-controls ridesim-${model.get("shape")}`, role: "group" });
  el.append(row);

  function build() {
    const active = document.activeElement;
    const kept = active && row.contains(active) ? active.closest("[data-key]")?.dataset.key : null;
    const unsaid = boxes.get(kept) === active && typing(active) && whose === model.get("whose") ? active.value : null;
    const whole = boxes.get(kept) === active && marked(active);
    whose = model.get("whose");
    const group = model.get("group");
    row.setAttribute("aria-label", group || "controls");
    building = true;
    boxes.clear();
    sliders.clear();
    tracks.clear();
    row.replaceChildren(...model.get("fields").map((field) => makers[field.kind](field, group)));
    building = false;
    for (const [key, box] of boxes) {
      // The browser does not call it a change where the last letters were typed before the box was made anew.
      box.addEventListener("blur", () => { if (!building && box.value !== box.dataset.said) { sliders.get(key)?.(); say(); } });
    }
    hatch();
    // What is typed is what the kernel reckons with; "texts" is only what it last put here itself. A reloaded page gets both.
    fill({ ...model.get("texts"), ...model.get("typed") });
    judge();
    if (unsaid !== null && boxes.has(kept)) boxes.get(kept).value = unsaid;
    const again = kept && row.querySelector(`[data-key="${kept}"] input, [data-key="${kept}"] select, button[data-key="${kept}"]`);
    again?.focus();
    if (whole) again?.select();
  }

  // Somebody is in the box, and what stands there is not said yet.
  function typing(box) {
    return box === document.activeElement && box.value !== box.dataset.said;
  }

  // Somebody has come into the box, by Tab say, and will type over all that stands there.
  function marked(box) {
    return box === document.activeElement && box.value !== "" && box.selectionStart === 0 && box.selectionEnd === box.value.length;
  }

  // What an answer puts into the boxes, but for what somebody is typing while it comes in.
  function fill(texts) {
    for (const [key, box] of boxes) {
      const unsaid = typing(box) ? box.value : null;
      const whole = marked(box);
      if (texts[key] !== undefined && box.value !== texts[key]) box.value = texts[key];
      box.dataset.said = box.dataset.put = box.value;
      if (unsaid !== null) box.value = unsaid;
      if (whole) box.select();
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
  model.on("change:hatches", hatch);
  model.on("change:texts", () => fill(model.get("texts")));
  model.on("change:problems change:marks", judge);
  build();
  return () => desk?.removeEventListener("keydown", pressByKey);
}

export default { render };
