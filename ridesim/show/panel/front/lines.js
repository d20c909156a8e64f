// The verdicts, one line a candidate: mark, name, words, reason, a bar of distance to spare on a common zero line. A line is pressed to work on its candidate.
const SPACE = "http://www.w3.org/2000/svg";
const DASHES = ["", "8 2.6", "12 3 3 3", "3 2.6"];
const SHAPES = { yes: "M2 8 L6 12 L14 3", just: "M2 9 h12", doubt: "M5 5 a3 3 0 1 1 4 3 q-1 .6 -1 2 M8 13 v.6", no: "M3 3 L13 13 M13 3 L3 13", "": "M3 8 h.1 M8 8 h.1 M13 8 h.1" };

function svg(tag, attributes, ...inner) {
  const made = document.createElementNS(SPACE, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...inner);
  return made;
}

function html(tag, className, text) {
  const made = document.createElement(tag);
  made.className = className;
  if (text !== undefined) made.textContent = text;
  return made;
}

// A candidate's line style and end mark, as they are in the pictures.
function swatch(place) {
  const mark = [
    svg("circle", { cx: 38, cy: 7, r: 4 }), svg("rect", { x: 34, y: 3, width: 8, height: 8 }),
    svg("path", { d: "M38 2.5 L42.5 11 L33.5 11 Z" }), svg("path", { d: "M38 2 L43 7 L38 12 L33 7 Z" }),
  ][place];
  mark.setAttribute("class", "ridesim-hollow");
  const line = svg("line", { x1: 1, y1: 7, x2: 33, y2: 7, "stroke-dasharray": DASHES[place] });
  return svg("svg", { viewBox: "0 0 46 14", class: "ridesim-swatch", "aria-hidden": "true" }, line, mark);
}

function bar(each, scale) {
  const box = svg("svg", { class: "ridesim-bar", viewBox: "0 0 200 24", preserveAspectRatio: "none", "aria-hidden": "true" });
  const at = (value) => 4 + (192 * (value - scale.low)) / (scale.high - scale.low);
  box.append(svg("line", { x1: at(0), x2: at(0), y1: 0, y2: 24, class: "ridesim-home" }));
  if (!each.bar) return box;
  const [low, value, high] = each.bar;
  box.append(svg("rect", { x: Math.min(at(0), at(value)), y: 7, width: Math.max(1, Math.abs(at(value) - at(0))), height: 10, class: "ridesim-spare" }));
  if (low < high) {
    for (const [x1, x2, y1, y2] of [[low, high, 12, 12], [low, low, 6, 18], [high, high, 6, 18]]) {
      box.append(svg("line", { x1: at(x1), x2: at(x2), y1, y2, class: "ridesim-reach" }));
    }
  }
  return box;
}

function render({ model, el }) {
  const list = html("div", "ridesim-lines");
  list.setAttribute("role", model.get("plain") ? "list" : "radiogroup");
  list.setAttribute("aria-label", "Candidates and their verdicts");
  list.dataset.lmSuppressShortcuts = "true";
  const unjudged = html("p", "ridesim-unjudged");
  el.append(list, unjudged);
  let presses = 0;

  function press(action, place) {
    model.set("pressed", [action, place, (presses += 1), Date.now()]);
    model.save_changes();
  }

  function choose(place, focus) {
    if (place !== model.get("chosen")) {
      model.set("chosen", place);
      model.save_changes();
      mark();
    }
    if (focus) list.querySelectorAll("[role=radio]")[place].focus();
  }

  function line(each, place, count) {
    const row = html("div", `ridesim-verdict ridesim-colour-${place + 1} ridesim-level-${each.level || "none"}`);
    const plain = model.get("plain"); // a line that is only read
    const main = html(plain ? "div" : "button", "ridesim-choose");
    if (!plain) main.type = "button";
    main.setAttribute("role", plain ? "listitem" : "radio");
    main.setAttribute("aria-label", `${each.name}. ${each.words}: ${each.why}${each.share ? `; ${each.share} do the whole day` : ""}`);
    const shape = svg("svg", { viewBox: "0 0 16 16", class: "ridesim-shape", "aria-hidden": "true" }, svg("path", { d: SHAPES[each.level] }));
    const reason = html("span", "ridesim-why", each.why);
    reason.title = each.why;
    main.append(swatch(place), html("span", "ridesim-who", each.name), shape, html("span", "ridesim-words-of", each.words), reason);
    main.append(each.instead ? html("span", "ridesim-instead", each.instead) : bar(each, model.get("scale")), html("span", "ridesim-share", each.share.replace("about ", "").replace("more than ", "> ").replace("fewer than ", "< ") + (each.share ? " do it" : "")));
    if (plain) {
      row.append(main);
      return row;
    }
    main.addEventListener("click", () => choose(place));
    main.addEventListener("keydown", (event) => {
      const way = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      choose((place + way + count) % count, true);
    });
    const more = html("button", "ridesim-dots", "⋯");
    more.type = "button";
    more.setAttribute("aria-label", `Name, file, copy, remove: ${each.name}`);
    more.addEventListener("click", () => { choose(place); press("menu", place); });
    row.append(main, more);
    return row;
  }

  function mark() {
    list.querySelectorAll("[role=radio]").forEach((each, place) => {
      const chosen = place === model.get("chosen");
      each.setAttribute("aria-checked", String(chosen));
      each.tabIndex = chosen ? 0 : -1;
      each.parentElement.classList.toggle("ridesim-chosen", chosen);
    });
  }

  function fill() {
    const focused = list.contains(document.activeElement) ? [...list.querySelectorAll("button")].indexOf(document.activeElement) : -1;
    const lines = model.get("lines");
    const scale = model.get("scale");
    const foot = html("div", "ridesim-scale");
    for (const [value, text] of scale.ticks || []) {
      const tick = html("span", "", text);
      tick.style.left = `${2 + (96 * (value - scale.low)) / (scale.high - scale.low)}%`;
      foot.append(tick);
    }
    const below = html("p", "ridesim-mend", model.get("below"));
    below.title = model.get("below");
    unjudged.textContent = model.get("unjudged");
    unjudged.hidden = !model.get("unjudged");
    list.replaceChildren(...lines.map((each, place) => line(each, place, lines.length)), foot, below);
    mark();
    if (focused >= 0) list.querySelectorAll("button")[focused]?.focus();
  }

  model.on("change:lines change:scale change:below change:unjudged", fill);
  model.on("change:chosen", mark);
  fill();
}

export default { render };
