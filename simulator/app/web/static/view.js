// What the page looks at, its history, and its address: the address says all of it.

const clone = (value) => JSON.parse(JSON.stringify(value));

async function packed(text) {
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  let out = "";
  for (const byte of bytes) out += String.fromCharCode(byte);
  return btoa(out).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

async function unpacked(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  const bytes = Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Response(stream).text();
}

export async function addressOf(view) {
  const parts = new URLSearchParams();
  parts.set("scene", view.scene);
  parts.set("camera", view.camera);
  if (view.seed) parts.set("seed", String(view.seed));
  if (Object.keys(view.changes).length) parts.set("set", JSON.stringify(view.changes));
  if (view.scene_text) parts.set("scene-file", await packed(view.scene_text));
  if (view.camera_text) parts.set("camera-file", await packed(view.camera_text));
  return `#${parts}`;
}

export async function viewOf(address, usual) {
  const parts = new URLSearchParams(address.replace(/^#/, ""));
  const view = { scene: parts.get("scene") ?? usual.scene, camera: parts.get("camera") ?? usual.camera,
    scene_text: "", camera_text: "", changes: {}, seed: Number(parts.get("seed") ?? 0) || 0 };
  try {
    if (parts.has("set")) view.changes = JSON.parse(parts.get("set"));
    if (parts.has("scene-file")) view.scene_text = await unpacked(parts.get("scene-file"));
    if (parts.has("camera-file")) view.camera_text = await unpacked(parts.get("camera-file"));
  } catch {
    return { view: { ...view, changes: {}, scene_text: "", camera_text: "" }, broken: true };
  }
  if (typeof view.changes !== "object" || view.changes === null) view.changes = {};
  return { view, broken: false };
}

const MOST_STEPS = 200;

export class History {
  // The view now, what was before and what was taken back.
  constructor(view, changed) {
    this.view = view;
    this.settled = clone(view);
    this.past = [];
    this.future = [];
    this.changed = changed;
    this.writing = Promise.resolve();
  }

  get canUndo() { return this.past.length > 0; }

  get canRedo() { return this.future.length > 0; }

  // Changes the view; while a slider moves it is not `final`, and counts as one step at its end.
  change(change, final = true) {
    const next = clone(this.view);
    change(next);
    this.view = next;
    if (final) this.settle();
    this.changed(final);
  }

  settle() {
    if (JSON.stringify(this.settled) === JSON.stringify(this.view)) return;
    this.past.push(this.settled);
    if (this.past.length > MOST_STEPS) this.past.shift();
    this.future = [];
    this.settled = clone(this.view);
    this.write();
  }

  // Sets a value; the last one set comes last, since later changes win.
  set(key, value, final = true) {
    this.change((view) => {
      delete view.changes[key];
      view.changes[key] = value;
    }, final);
  }

  unset(key) { this.change((view) => { delete view.changes[key]; }); }

  undo() { this.step(this.past, this.future); }

  redo() { this.step(this.future, this.past); }

  step(from, to) {
    if (!from.length) return;
    to.push(this.settled);
    this.settled = from.pop();
    this.view = clone(this.settled);
    this.write();
    this.changed(true);
  }

  replace(view) {
    this.view = view;
    this.settle();
    this.changed(true);
  }

  write() {
    const view = clone(this.settled);
    this.writing = this.writing.then(async () => {
      const address = await addressOf(view);
      if (location.hash !== address) history.replaceState(null, "", address);
    });
  }
}
