// Sliders and choices in four groups; every slider has its exact figure beside it.

import { by, digits, make } from "/static/dom.js";

const STEPS = 400;
const GROUPS = { light: "Light", place: "Place", target: "Target", camera: "Camera" };

const toShare = (one, value) => (one.scale === "ratio"
  ? Math.log(value / one.low) / Math.log(one.high / one.low)
  : (value - one.low) / (one.high - one.low));

function fromShare(one, share) {
  const value = one.scale === "ratio"
    ? one.low * (one.high / one.low) ** share
    : one.low + (one.high - one.low) * share;
  return Number(value.toPrecision(3));
}

const idOf = (one) => `control-${one.key.replace(/[^a-z0-9]+/gi, "-")}`;

export class Controls {
  constructor(history) {
    this.history = history;
    this.form = by("controls");
    this.form.addEventListener("submit", (event) => event.preventDefault());
    this.shape = "";
    this.parts = new Map();
  }

  // Shows what the server says can be moved; the one under the hand stays as it is.
  show(found) {
    const shape = JSON.stringify(found.map((one) => [one.key, one.label, one.choices]));
    if (shape !== this.shape) this.build(found);
    this.shape = shape;
    for (const one of found) this.parts.get(one.key)?.show(one, one.key in this.history.view.changes);
  }

  build(found) {
    this.parts.clear();
    this.form.replaceChildren();
    for (const [group, name] of Object.entries(GROUPS)) {
      const own = found.filter((one) => one.group === group);
      if (!own.length) continue;
      const set = make("fieldset", {}, make("legend", {}, name));
      for (const one of own) {
        const part = this.part(one);
        this.parts.set(one.key, part);
        set.append(part.element);
      }
      this.form.append(set);
    }
  }

  part(one) {
    if (one.choices.length) return this.choice(one);
    if (typeof one.value === "boolean") return this.tick(one);
    if (typeof one.value === "string") return this.text(one);
    return this.slider(one);
  }

  row(one, ...inner) {
    return make("div", { className: "control", data: { key: one.key } },
      make("label", { htmlFor: idOf(one) }, one.label), ...inner);
  }

  choice(one) {
    const field = make("select", { id: idOf(one), on: {
      change: () => this.history.set(one.key, field.value) } },
    ...one.choices.map((name) => make("option", { value: name }, name)));
    const element = this.row(one, field);
    return { element, show: (now, changed) => {
      field.value = now.value;
      element.classList.toggle("changed", changed);
    } };
  }

  tick(one) {
    const field = make("input", { type: "checkbox", id: idOf(one), on: {
      change: () => this.history.set(one.key, field.checked) } });
    const element = this.row(one, field);
    return { element, show: (now, changed) => {
      field.checked = now.value;
      element.classList.toggle("changed", changed);
    } };
  }

  text(one) {
    const field = make("input", { type: "text", id: idOf(one), maxLength: 60, on: {
      change: () => this.history.set(one.key, field.value) } });
    const element = this.row(one, field);
    return { element, show: (now, changed) => {
      if (document.activeElement !== field) field.value = now.value;
      element.classList.toggle("changed", changed);
    } };
  }

  slider(one) {
    let now = one;
    const set = (value, final) => {
      number.value = digits(value);
      this.history.set(one.key, value, final);
    };
    const range = make("input", { type: "range", id: idOf(one), min: 0, max: STEPS, step: 1, on: {
      input: () => set(fromShare(now, range.value / STEPS), false),
      change: () => this.history.settle() } });
    const number = make("input", { type: "number", step: "any", "aria-label":
      `${one.label}, exact${one.unit ? `, in ${one.unit}` : ""}`, on: { change: () => {
      if (number.value !== "") set(Number(number.value), true);
    } } });
    const free = this.free(one);
    const element = this.row(one, make("span", { className: "figure" }, number,
      make("span", { className: "unit" }, one.unit)), range, free.element);
    const show = (next, changed) => {
      now = next;
      element.classList.toggle("changed", changed);
      free.show(next.value === null, changed);
      const held = [range, number].includes(document.activeElement) && element.matches(":active");
      if (held) return;
      const value = next.value;
      if (document.activeElement !== number) number.value = value === null ? "" : digits(value, 4);
      number.placeholder = next.free ? "auto" : "";
      const share = value === null ? 0.5 : Math.min(1, Math.max(0, toShare(next, value)));
      range.value = Math.round(share * STEPS);
      range.setAttribute("aria-valuetext", value === null ? next.free
        : `${digits(value)} ${next.unit}`.trim());
    };
    return { element, show };
  }

  free(one) {
    const told = make("span", {}, one.free);
    const words = "Reset";
    const button = make("button", { type: "button", on: {
      click: () => this.history.unset(one.key) } }, words);
    button.setAttribute("aria-label", `${words}: ${one.label}, as in the file`);
    const element = make("div", { className: "free" }, told, button);
    return { element, show: (free, changed) => {
      told.hidden = !free;
      button.hidden = !changed;
      element.hidden = told.hidden && button.hidden;
    } };
  }
}
