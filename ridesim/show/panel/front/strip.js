// The day's programme: activities by name with their heights, charging as a pause, light as a tint, one clock below. Pointing at an activity marks it everywhere.
const SPACE = "http://www.w3.org/2000/svg";

function render({ model, el }) {
  const strip = document.createElement("div");
  strip.className = "ridesim-strip";
  strip.setAttribute("role", "group");
  strip.dataset.lmSuppressShortcuts = "true";
  el.append(strip);

  function share(hour) {
    const { first, last } = model.get("day");
    return (100 * (hour - first)) / (last - first);
  }

  function point(place) {
    const desk = el.closest(".ridesim-desk");
    desk?.dispatchEvent(new CustomEvent("ridesim-point", { detail: place === null ? null : { ...model.get("day").acts[place], place } }));
  }

  function profile(act) {
    const box = document.createElementNS(SPACE, "svg");
    box.setAttribute("viewBox", "0 0 100 100");
    box.setAttribute("preserveAspectRatio", "none");
    box.setAttribute("aria-hidden", "true");
    const shape = document.createElementNS(SPACE, "path");
    shape.setAttribute("d", `M0 100 ${act.profile.map(([x, y]) => `L${x} ${y}`).join(" ")} L100 100 Z`);
    box.append(shape);
    return box;
  }

  function fill() {
    const day = model.get("day");
    if (!day.acts) return;
    strip.setAttribute("aria-label", `The day: ${day.name}`);
    const lit = day.lit.map(([from, to]) => {
      const tint = document.createElement("div");
      tint.className = "ridesim-lit";
      tint.style.left = `${share(from)}%`;
      tint.style.width = `${share(to) - share(from)}%`;
      return tint;
    });
    const acts = day.acts.map((act, place) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = `ridesim-act ridesim-${act.kind}`;
      button.style.left = `${share(act.start)}%`;
      button.style.width = `max(7px, ${share(act.end) - share(act.start)}%)`;
      button.setAttribute("aria-label", act.words);
      button.title = act.words;
      if (act.profile.length) button.append(profile(act));
      button.addEventListener("pointerenter", () => point(place));
      button.addEventListener("pointerleave", () => point(null));
      button.addEventListener("focus", () => point(place));
      button.addEventListener("blur", () => point(null));
      return button;
    });
    const names = day.acts.map((act) => {
      const name = document.createElement("span");
      name.className = "ridesim-act-name";
      name.style.left = `${(share(act.start) + share(act.end)) / 2}%`;
      name.setAttribute("aria-hidden", "true");
      name.textContent = act.name + (act.laps > 1 ? ` ×${act.laps}` : "");
      return name;
    });
    const hours = day.ticks.map(([hour, text]) => {
      const tick = document.createElement("span");
      tick.className = "ridesim-hour";
      tick.style.left = `${share(hour)}%`;
      // A clock time at an end stays within the strip.
      tick.style.transform = `translateX(-${Math.min(100, Math.max(0, share(hour) < 3 ? 0 : share(hour) > 97 ? 100 : 50))}%)`;
      tick.textContent = text;
      return tick;
    });
    strip.replaceChildren(...lit, ...acts, ...names, ...hours);
    fit();
  }

  // Names that have no room go, the shortest activities first; a name within the strip's ends. Of the hours every second, third … stays.
  function fit() {
    const wide = strip.getBoundingClientRect().width;
    if (!wide) return; // not laid out: once it is, its size changes
    const hours = [...strip.querySelectorAll(".ridesim-hour")];
    const every = Math.max(1, Math.ceil((hours.length * 44) / wide));
    hours.forEach((hour, i) => { hour.hidden = i % every > 0 || (i > hours.length - every && i < hours.length - 1); });
    const names = [...strip.querySelectorAll(".ridesim-act-name")];
    const acts = model.get("day").acts;
    const order = names.map((_, i) => i).sort((a, b) => (acts[b].end - acts[b].start) - (acts[a].end - acts[a].start));
    const taken = [];
    for (const i of order) {
      const name = names[i];
      name.hidden = false;
      name.textContent = acts[i].name + (acts[i].laps > 1 ? ` ×${acts[i].laps}` : "");
      let half = name.offsetWidth / 2 + 4;
      const middle = (parseFloat(name.style.left) * wide) / 100;
      const centre = Math.min(Math.max(middle, half), wide - half);
      name.style.transform = `translateX(calc(-50% + ${centre - middle}px))`;
      if (taken.some(([from, to]) => centre - half < to && from < centre + half)) name.hidden = true;
      else taken.push([centre - half, centre + half]);
    }
  }

  const sizes = new ResizeObserver(() => requestAnimationFrame(fit));
  sizes.observe(strip);
  model.on("change:day", fill);
  fill();
  return () => sizes.disconnect();
}

export default { render };
