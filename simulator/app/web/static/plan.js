// Plan and side view: things are moved by pointer or by key, with their exact place beside.

import { by, digits, draw, make } from "/static/dom.js";

const SIDE = 130;
const STEP_M = 0.1;
const NAMES = { camera: "Camera", lamp: "Lamp", illuminator: "Infrared", target: "Target",
  wall: "Wall", gate: "Gate", opening: "Opening", photograph: "Photo" };

function wayOf(event) {
  const far = event.shiftKey ? 10 * STEP_M : STEP_M;
  return { ArrowUp: [-far, 0], ArrowDown: [far, 0], ArrowLeft: [0, -far],
    ArrowRight: [0, far] }[event.key];
}

export class Plan {
  constructor(history) {
    Object.assign(this, { history, things: [], seen: [], chosen: "camera", placing: null,
      cross: [0, 0], wide: 600, high: 320 });
    this.svg = by("plan");
    this.side = by("side");
    this.svg.addEventListener("click", (event) => this.clicked(event));
    by("thing").addEventListener("change", () => this.choose(by("thing").value));
    by("away").addEventListener("click", () => this.takeAway());
    by("add").addEventListener("click", () => this.begin(by("add-kind").value));
    this.svg.addEventListener("keydown", (event) => this.crossed(event));
    new ResizeObserver(() => this.sized()).observe(this.svg.parentElement);
  }

  show(plan) {
    this.things = plan.things;
    this.task = plan.task;
    if (!this.things.some((one) => this.idOf(one) === this.chosen)) this.chosen = "camera";
    this.fit();
    this.redraw();
    this.figures();
  }

  // As many units as pixels across, so that words and marks keep their size on a phone.
  sized() {
    const wide = Math.round(this.svg.parentElement.clientWidth);
    if (wide < 100 || wide === this.wide) return;
    this.wide = wide;
    this.high = Math.round(Math.min(460, Math.max(240, 0.52 * wide)));
    if (!this.things.length) return;
    this.fit();
    this.redraw();
  }

  showSeen(seen) {
    this.seen = seen;
    this.redraw();
  }

  idOf(one) { return one.kind === "camera" ? "camera" : `${one.kind} ${one.name}`; }

  thing() { return this.things.find((one) => this.idOf(one) === this.chosen); }

  fit() {
    if (this.dragging) return;
    const xs = [0, ...this.things.map((one) => one.at[0])];
    const ys = [0, ...this.things.map((one) => one.at[1])];
    const room = 0.12 * Math.max(4, Math.max(...ys) - Math.min(...ys)) + 0.5;
    const [left, right] = [Math.min(...xs) - room, Math.max(...xs) + room];
    const [near, far] = [Math.min(...ys) - room, Math.max(...ys) + room];
    // the way from the camera lies along the page, so that a long site fits a wide page
    this.scale = Math.min(this.wide / (far - near), this.high / (right - left));
    this.near = near - (this.wide / this.scale - (far - near)) / 2;
    this.left = left - (this.high / this.scale - (right - left)) / 2;
  }

  px([x, y]) { return [(y - this.near) * this.scale, (x - this.left) * this.scale]; }

  metres([across, down]) { return [down / this.scale + this.left, across / this.scale + this.near]; }

  redraw() {
    const focused = this.svg.contains(document.activeElement) && document.activeElement.dataset.id;
    this.svg.setAttribute("viewBox", `0 0 ${this.wide} ${this.high}`);
    const grid = [];
    const step = [0.5, 1, 2, 5, 10, 20, 50, 100].find((m) => m * this.scale > 60) ?? 200;
    const first = Math.ceil(this.near / step) * step;
    for (let y = first; y < this.near + this.wide / this.scale; y += step) {
      const [x] = this.px([0, y]);
      grid.push(draw("line", { class: "grid", x1: x, x2: x, y1: 0, y2: this.high }));
      if (x > this.wide - 40) continue;  // its figure would be cut off
      grid.push(draw("text", { class: "soft", x: x + 3, y: this.high - 6 }, `${digits(y)} m`));
    }
    const cone = this.seen.length ? [draw("polygon", { class: "cone",
      points: this.seen.map((at) => this.px(at).join(",")).join(" ") })] : [];
    // a thing's aim comes after it, so that the Tab key goes from one to the other
    const things = this.things.flatMap((one) => [this.drawn(one),
      ...(this.idOf(one) === this.chosen ? this.aimHandle() : [])]);
    this.svg.replaceChildren(...grid, ...cone, ...things, ...this.crosshair());
    if (focused) this.focus(focused);
    this.drawSide();
  }

  drawn(one) {
    const [x, y] = this.px(one.at);
    const id = this.idOf(one);
    const told = `${NAMES[one.kind] ?? one.kind}${one.kind === "camera" ? "" : ` ${one.name}`}, `
      + `${digits(one.at[0])} m to the right, ${digits(one.at[1])} m ahead`;
    const out = draw("g", { class: `thing${id === this.chosen ? " chosen" : ""}`, tabindex: 0,
      role: "button", "aria-label": told, "data-id": id });
    if (one.aim) {
      const [ax, ay] = this.px(one.aim);
      out.append(draw("line", { class: "aim", x1: x, y1: y, x2: ax, y2: ay }));
    }
    if (one.width) {
      const turn = ((one.facing ?? 0) * Math.PI) / 180;
      const half = (one.width / 2) * this.scale;
      const [dx, dy] = [Math.sin(turn) * half, Math.cos(turn) * half];
      out.append(draw("line", { class: "wall", x1: x - dx, y1: y - dy, x2: x + dx, y2: y + dy }));
    }
    out.append(draw("circle", { class: "halo", cx: x, cy: y, r: 13 }), this.mark(one, x, y));
    const before = x > this.wide - 110;
    // of two things at one place the later one is named below
    const place = this.things.indexOf(one);
    const below = this.things.slice(0, place).some((other) => {
      const [ox, oy] = this.px(other.at);
      return Math.abs(ox - x) < 90 && Math.abs(oy - y) < 14;
    });
    out.append(draw("text", { x: before ? x - 14 : x + 14, y: below ? y + 25 : y - 8,
      "text-anchor": before ? "end" : "start" }, one.kind === "camera" ? "camera" : one.name));
    out.addEventListener("pointerdown", (event) => this.drag(event, one, "at"));
    out.addEventListener("keydown", (event) => this.keyed(event, one, "at"));
    out.addEventListener("focus", () => { if (this.chosen !== id) this.choose(id, false); });
    return out;
  }

  // Where the chosen thing is aimed: a ring, open in the middle, for the target often stands there.
  aimHandle() {
    const one = this.thing();
    if (!one?.aim) return [];
    const [x, y] = this.px(one.aim);
    const told = `Aim of ${one.kind === "camera" ? "the camera" : one.name}, `
      + `${digits(one.aim[0])} m to the right, ${digits(one.aim[1])} m ahead`;
    const out = draw("g", { class: "aim-handle", tabindex: 0, role: "button", "aria-label": told,
      "data-id": `aim ${this.chosen}` },
    draw("circle", { class: "grip", cx: x, cy: y, r: 21 }),
    draw("circle", { class: "ring", cx: x, cy: y, r: 21 }));
    out.addEventListener("pointerdown", (event) => this.drag(event, one, "aim"));
    out.addEventListener("keydown", (event) => this.keyed(event, one, "aim"));
    return [out];
  }

  mark(one, x, y) {
    if (one.kind === "camera") {
      return draw("path", { class: "camera", d: `M${x - 8} ${y - 7}h12l5 7l-5 7h-12z` });
    }
    if (one.kind === "lamp" || one.kind === "illuminator") {
      return draw("path", { class: one.kind, d: `M${x} ${y - 8}l8 8l-8 8l-8 -8z` });
    }
    return draw("rect", { class: one.kind === "target" ? "target" : "body",
      x: x - 5, y: y - 5, width: 10, height: 10 });
  }

  drawSide() {
    const top = Math.max(3, ...this.things.map((one) => one.at[2])) * 1.2;
    const scale = Math.min(this.scale, (SIDE - 34) / top);
    const level = (z) => SIDE - 20 - z * scale;
    this.side.setAttribute("viewBox", `0 0 ${this.wide} ${SIDE}`);
    const parts = [draw("line", { class: "ground", x1: 0, x2: this.wide, y1: level(0), y2: level(0) })];
    for (const one of this.things) {
      const [x] = this.px(one.at);
      const y = level(one.at[2]);
      if (one.aim) {
        const [ax] = this.px(one.aim);
        parts.push(draw("line", { class: "aim", x1: x, y1: y, x2: ax, y2: level(one.aim[2]) }));
      }
      parts.push(draw("line", { class: "aim", x1: x, y1: y, x2: x, y2: level(0) }),
        this.mark(one, x, y));
    }
    parts.push(draw("text", { class: "soft", x: 6, y: 16 },
      `heights ${scale === this.scale ? "to the scale of the plan" : "flattened"}; highest `
      + `${digits(Math.max(...this.things.map((one) => one.at[2])))} m`));
    this.side.replaceChildren(...parts);
  }

  at(event) {
    const box = this.svg.getBoundingClientRect();
    return this.metres([((event.clientX - box.left) / box.width) * this.wide,
      ((event.clientY - box.top) / box.height) * this.high]).map((m) => Number(m.toFixed(2)));
  }

  // Moves a thing ("at") or the point that it is aimed at ("aim") after the pointer.
  drag(event, one, part) {
    if (this.placing) return;
    event.preventDefault();
    this.choose(this.idOf(one), false);
    this.dragging = true;
    const begun = this.at(event);
    const before = one[part];
    const move = (next) => {
      // by how far the pointer went: the aim is taken by its ring, not in its middle
      const far = this.at(next).map((m, k) => m - begun[k]);
      this.put(one, part, [before[0] + far[0], before[1] + far[1]], false);
    };
    const end = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", end);
      window.removeEventListener("pointercancel", end);
      this.dragging = false;
      this.history.settle();
      this.figures();
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
    window.addEventListener("pointercancel", end);
    this.focus(part === "aim" ? `aim ${this.chosen}` : this.chosen);
  }

  keyed(event, one, part) {
    if (this.placing) return;
    const way = wayOf(event);
    if (event.key === "Delete" && part === "at") this.takeAway();
    if (!way) return;
    event.preventDefault();
    this.put(one, part, [one[part][0] + way[0], one[part][1] + way[1]], true);
  }

  put(one, part, [x, y], final) {
    one[part] = [Number(x.toFixed(2)), Number(y.toFixed(2)), one[part][2]];
    this.redraw();
    this.send(one, part, final);
  }

  focus(id) {
    this.svg.querySelector(`[data-id="${CSS.escape(id)}"]`)?.focus({ preventScroll: true });
  }

  send(one, part, final) {
    const key = part === "aim" ? one.aim_key : one.key;
    this.history.set(key, part === "at" && one.flat ? one.at.slice(0, 2) : one[part], final);
    if (final) this.figures();
  }

  choose(id, redraw = true) {
    if (this.chosen === id && !redraw) return;
    this.chosen = id;
    for (const one of this.svg.querySelectorAll(".thing")) {
      one.classList.toggle("chosen", one.dataset.id === id);
    }
    if (redraw) {
      this.redraw();
    } else {  // what has the focus stays
      this.svg.querySelector(".aim-handle")?.remove();
      this.svg.querySelector(".chosen")?.after(...this.aimHandle());
    }
    this.figures();
  }

  // Fields for the exact place of a thing, or of the point that it is aimed at.
  exactly(one, part, told) {
    const fields = ["right", "ahead", "up"].map((name, k) => {
      const input = make("input", { type: "number", step: 0.1, value: digits(one[part][k], 5), on: {
        change: () => {
          if (input.value === "") return;
          if (part === "at" && one.flat && k === 2) {
            this.history.set("height", Number(input.value));
            return;
          }
          one[part][k] = Number(input.value);
          this.redraw();
          this.send(one, part, true);
        } } });
      return make("label", {}, name, input);
    });
    return make("fieldset", {}, make("legend", {}, `${told}, m`), ...fields);
  }

  // The exact place of the chosen thing.
  figures() {
    const field = by("thing");
    field.replaceChildren(...this.things.map((one) => make("option", { value: this.idOf(one) },
      one.kind === "camera" ? "Camera" : `${NAMES[one.kind] ?? one.kind}: ${one.name}`)));
    field.value = this.chosen;
    const one = this.thing();
    if (!one) return;
    by("place").replaceChildren(this.exactly(one, "at", "Place"));
    if (one.aim) by("place").append(this.exactly(one, "aim", "Aimed at"));
    by("away").disabled = one.kind === "camera" || one.judged === true;
  }

  takeAway() {
    const one = this.thing();
    if (!one || one.kind === "camera" || one.judged) return;
    const table = { lamp: "lamp", illuminator: "illuminator", target: "target" }[one.kind] ?? "surface";
    const key = `${table}.${one.name}`;
    this.chosen = "camera";
    this.history.change((view) => {
      const added = typeof view.changes[key] === "object" && view.changes[key] !== null;
      for (const name of Object.keys(view.changes)) {
        if (name === key || name.startsWith(`${key}.`)) delete view.changes[name];
      }
      if (!added) view.changes[key] = null;
    });
  }

  // Lets the place of something new be chosen, by pointer or by the arrow keys and Enter.
  begin(kind, told = "Choose a place on the plan") {
    this.placing = kind;
    this.cross = this.metres([this.wide / 2, this.high / 2]).map((m) => Number(m.toFixed(1)));
    this.svg.style.cursor = "crosshair";
    by("status").textContent = `${told}: click, or arrow keys and Enter; Escape ends it.`;
    this.redraw();
    this.svg.focus({ preventScroll: true });
    this.svg.scrollIntoView({ block: "nearest" });
  }

  placed() {
    this.placing = null;
    this.svg.style.cursor = "";
    by("status").textContent = "";
    this.redraw();
  }

  crosshair() {
    if (!this.placing) return [];
    const [x, y] = this.px(this.cross);
    return [draw("path", { class: "cross", d: `M${x - 12} ${y}h24M${x} ${y - 12}v24` })];
  }

  crossed(event) {
    if (!this.placing) return;
    const way = wayOf(event);
    if (way) this.cross = this.cross.map((m, k) => Number((m + 5 * way[k]).toFixed(2)));
    else if (event.key === "Enter") this.finish(this.cross);
    else return;
    event.preventDefault();
    if (this.placing) {
      this.redraw();
      const [x, y] = this.cross;
      by("status").textContent = `${digits(x)} m to the right, ${digits(y)} m ahead; Enter puts it there.`;
    }
  }

  finish([x, y]) {
    const kind = this.placing;
    this.placed();
    this.add(kind, x, y);
    by("thing").focus({ preventScroll: true });
  }

  clicked(event) {
    if (!this.placing) return;
    this.finish(this.at(event));
  }

  add(kind, x, y) {
    const aim = this.things.find((one) => one.judged)?.at ?? [0, 10, 1];
    const target = aim.map((m) => Number(m.toFixed(2)));
    const ground = [x, y + (x === target[0] && y === target[1] ? 0.1 : 0), 0];
    const [table, entry] = {
      lamp: ["lamp", { spectrum: "led-4000k", intensity_cd: 800, beam_deg: 110,
        position_m: [x, y, 4], aim_m: ground }],
      infrared: ["illuminator", { use: "infrared-850-medium", position_m: [x, y, 3],
        aim_m: target }],
      wall: ["surface", { kind: "wall", material: "concrete", position_m: [x, y, 0], width_m: 6,
        height_m: 3 }],
      person: ["target", { kind: "person", position_m: [x, y, 0] }],
      plate: ["target", { kind: "plate", text: "K2W8 R4D", position_m: [x, y, 0.6] }],
      photo: ["surface", this.photo ?? {}],
    }[kind];
    const taken = new Set(this.things.map((one) => one.name));
    let name = kind;
    for (let k = 2; taken.has(name); k += 1) name = `${kind} ${k}`;
    if (kind === "photo") entry.position_m = [x, y, 0];
    const shown = { lamp: "lamp", infrared: "illuminator", wall: "wall", photo: "photograph" }[kind];
    this.chosen = `${shown ?? "target"} ${name}`;
    this.history.set(`${table}.${name}`, entry);
  }
}
