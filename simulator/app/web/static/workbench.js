// The page: one view, one answer; everything else hangs on these two.

import { Asker, lines, page, refusalOf } from "/static/ask.js";
import { budgetOf, fade, showCloser, showFixes, showProbability, showProof } from "/static/answer.js";
import { Controls } from "/static/controls.js";
import { by, make, percent } from "/static/dom.js";
import { Plan } from "/static/plan.js";
import { Stage } from "/static/stage.js";
import { History, viewOf } from "/static/view.js";

const USUAL = { scene: "depot-gate-infrared", camera: "fixed-2mp-lowlight" };
const told = (text) => { by("status").textContent = text; };
let count = { word: "", probability: NaN };  // of the view that is asked about
// how long each answer took, for whoever measures the page
globalThis.workbench = { times: [], state: "starting" };

// Tells what is wrong; what a view is refused for can be undone.
function refuse(row, undo = false) {
  globalThis.workbench.state = "refused";
  const lines_ = [["", row.problem], ["where", row.key], ["given", row.given],
    ["allowed", row.allowed], ["fix", row.fix]];
  by("refusal").replaceChildren(...lines_.filter(([, text]) => text).map(([name, text]) => make("p", {},
    name ? make("b", {}, `${name}: `) : null, text)),
  undo && history_.canUndo ? make("button", { type: "button", on: { click: () => history_.undo() } },
    "Undo the last change") : null,
  make("button", { type: "button", on: { click: () => { by("refusal").hidden = true; } } }, "Close"));
  by("refusal").hidden = false;
  told("");
}

function listed(select, rows, now, own) {
  const extra = own ? [make("option", { value: now }, `${now} (opened here)`)] : [];
  select.replaceChildren(...extra, ...rows.filter((one) => !own || one.name !== now).map((one) =>
    make("option", { value: one.name, title: one.title }, one.title || one.name)));
  select.value = now;
}

const { view, broken } = await viewOf(location.hash, USUAL);
const lists = await (await fetch("/lists")).json();
const history_ = new History(view, (final) => changed(final));
const stage = new Stage();
const controls = new Controls(history_);
const plan = new Plan(history_);
const fixing = new Asker("/fixes", takeFixes, failed);
const falling = new Asker("/falling", takeFalling, failed);
const passing = new Asker("/passing", takePassing, failed);
const budgeting = new Asker("/budget", takeBudget, failed);
const asker = new Asker("/answer", take, failed);

function failed(error) {
  globalThis.workbench.state = "failed";
  told(`The server does not answer (${error.message}). Is the command still running?`);
}

function take(row, after) {
  globalThis.workbench.times.push({ step: row.step, after });
  if (globalThis.workbench.times.length > 500) globalThis.workbench.times.shift();
  if (row.step === "refused") {
    refuse(row, true);
    return;
  }
  if (row.step === "dropped") return;
  by("refusal").hidden = true;
  globalThis.workbench.state = row.step;
  ({ opened, glance, coarse, look, closer, counted, pictured, proved })[row.step]?.(row);
}

function opened(row) {
  // what is asked next is ahead of this answer: its sliders and things stay where the hand has them
  if (!asker.waiting) {
    controls.show(row.controls);
    plan.show(row.plan);
  }
  by("question").textContent = row.plan.question;
  document.title = `${row.plan.title} · nightproof`;
  stage.titled(row.plan.title, row.plan.camera_title);
  told("Looking …");
}

function glance(row) {
  stage.show(row.picture, row.target, true);
}

function coarse(row) {
  stage.show(row.picture, row.target, true);
  plan.showSeen(row.seen);
  by("exposure").replaceChildren(...row.exposure.map(([name, value]) => make("div", {},
    make("dt", {}, name), make("dd", {}, value))));
}

function closer(row) {
  showCloser(row.picture);
}

function look(row) {
  showProbability(row);
  told("A first look. The whole picture and its proof follow …");
}

function counted(row) {
  count = { word: row.shown, probability: row.probability };
  showProbability(row);
  told("Counted. The whole picture follows …");
}

function pictured(row) {
  stage.show(row.picture, row.target, false, count);
  showCloser(row.closer);
  told("What limits it follows …");
}

function proved(row) {
  counted(row);
  pictured(row);
  showProof(row);
  by("origin").textContent = `${history_.view.scene}, ${history_.view.camera}, seed `
    + `${history_.view.seed}, nightproof ${lists.version}, inputs ${row.input_hash}.`;
  told(`Proved: ${row.shown}, ${percent(row.probability)} of pictures.`);
}

function changed(final) {
  fixing.stop();
  falling.stop();
  passing.stop();
  budgeting.stop();
  by("seek").disabled = false;
  by("budget-told").replaceChildren();
  fade();
  by("undo").disabled = !history_.canUndo;
  by("redo").disabled = !history_.canRedo;
  globalThis.workbench.state = "asking";
  listed(by("scene"), lists.scenes, history_.view.scene, history_.view.scene_text !== "");
  listed(by("camera"), lists.cameras, history_.view.camera, history_.view.camera_text !== "");
  by("falling").replaceChildren();
  by("passing").replaceChildren();
  asker.ask(history_.view);
}

function takeFixes(row) {
  by("seek").disabled = false;
  if (row.step === "refused") refuse(row);
  if (row.step !== "fixes") return;
  told("");
  showFixes(row, (fix) => history_.change((next) => {
    for (const [key, value] of Object.entries(fix.changes)) {
      delete next.changes[key];
      next.changes[key] = value;
    }
    if (fix.camera) {
      next.camera = fix.camera;
      next.camera_text = "";
    }
  }));
}

function takeFalling(row) {
  if (row.step === "refused") refuse(row);
  if (row.step !== "falling") return;
  const picture = make("img", { src: row.picture, alt: `The target with light ${row.told}` });
  by("falling").append(make("li", {}, picture, make("b", {}, `Light ${row.told}`),
    make("span", {}, `${row.percent ? `${row.percent}; ` : ""}${row.shutter}, ${row.gain}`)));
}

function takeBudget(row) {
  if (row.step === "refused") refuse(row);
  if (row.step !== "budget") return;
  told("");
  by("budget-told").replaceChildren(...budgetOf(row));
}

function takePassing(row) {
  if (row.step === "refused") refuse(row);
  if (row.step !== "passing") return;
  told("");
  by("passing").replaceChildren(...row.frames.map((one) => make("li", {},
    make("img", { src: one.picture, alt: `The target ${one.told} from now` }),
    make("b", {}, one.distance), make("span", {}, one.told))));
  if (!row.frames.length) by("passing").append(make("li", {}, "Nothing passes: the target stands."));
}

by("scene").addEventListener("change", () => history_.change((next) => {
  Object.assign(next, { scene: by("scene").value, scene_text: "", changes: {} });
}));
by("camera").addEventListener("change", () => history_.change((next) => {
  Object.assign(next, { camera: by("camera").value, camera_text: "" });
}));
by("undo").addEventListener("click", () => history_.undo());
by("redo").addEventListener("click", () => history_.redo());
by("reset").addEventListener("click", () => history_.change((next) => { next.changes = {}; }));
by("seek").addEventListener("click", () => {
  by("seek").disabled = true;
  told("Looking for changes that help; this takes up to a minute …");
  fixing.ask(history_.view);
});
by("fall").addEventListener("click", () => {
  by("falling").replaceChildren();
  falling.ask(history_.view);
});
by("pass").addEventListener("click", () => {
  told("Looking at the pass …");
  passing.ask(history_.view);
});
by("budget").addEventListener("click", () => {
  told("Following the light …");
  budgeting.ask(history_.view);
});
by("copy").addEventListener("click", async () => {
  await history_.writing;
  const address = new URL(location.href);
  address.searchParams.delete("token");
  await navigator.clipboard?.writeText(address.href).catch(() => {});
  told("The link is copied; it holds the whole view.");
});
by("skip").addEventListener("click", (event) => {
  event.preventDefault();  // the address says what is looked at, not where
  by("stage").focus();
});
window.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  by("refusal").hidden = true;
  if (plan.placing) plan.placed();
  else if (by("files").open) closeFiles(true);
});
window.addEventListener("pointerdown", (event) => {
  if (!by("files").contains(event.target)) closeFiles(false);
});
by("files").addEventListener("focusout", (event) => {
  if (event.relatedTarget && !by("files").contains(event.relatedTarget)) closeFiles(false);
});
function closeFiles(back) {
  by("files").open = false;
  if (back) by("files").querySelector("summary").focus();
}
window.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
  if (event.target.matches("input[type=text], input[type=number]")) return;
  event.preventDefault();
  if (event.shiftKey) history_.redo(); else history_.undo();
});
window.addEventListener("hashchange", async () => {
  const next = await viewOf(location.hash, USUAL);
  if (JSON.stringify(next.view) !== JSON.stringify(history_.settled)) history_.replace(next.view);
});

function themed(name) {
  document.documentElement.dataset.theme = name;
  by("theme").textContent = name === "dark" ? "Light page" : "Dark page";
}
by("theme").addEventListener("click", () => {
  const next = document.documentElement.dataset.theme === "dark" ? "light" : "dark";
  localStorage.setItem("theme", next);
  themed(next);
});
themed(localStorage.getItem("theme")
  ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light"));

async function kept(path, what) {
  told("Making the file …");
  const answer = await fetch(path, { method: "POST", headers: { "content-type": "application/json" },
    body: JSON.stringify({ view: history_.view, what, page }) });
  if (!answer.ok) {
    refuse(await refusalOf(answer));
    return;
  }
  const name = /filename="([^"]+)"/.exec(answer.headers.get("content-disposition"))?.[1] ?? "file";
  const address = URL.createObjectURL(await answer.blob());
  make("a", { href: address, download: name }).click();
  URL.revokeObjectURL(address);
  told(`${name} is saved.`);
}
for (const button of document.querySelectorAll("[data-save]")) {
  button.addEventListener("click", () => kept("/file", button.dataset.save));
}
for (const button of document.querySelectorAll("[data-export]")) {
  button.addEventListener("click", () => kept("/export", button.dataset.export));
}

by("open-file").addEventListener("change", async () => {
  const [file] = by("open-file").files;
  const kind = by("open-kind").value;
  if (!file) return;
  by("open-file").value = "";
  by("refusal").hidden = true;
  if (kind === "capture") {
    await stage.capture(file).catch(refuse);
    return;
  }
  const answer = await fetch(`/open?${new URLSearchParams({ kind, name: file.name })}`,
    { method: "POST", body: file });
  const row = answer.ok ? await answer.json() : await refusalOf(answer);
  if (row.step === "refused") {
    refuse(row);
    return;
  }
  use(row);
});

function use(row) {
  if (row.kind === "scene" || row.kind === "camera") {
    history_.change((next) => {
      next[row.kind] = row.name;
      next[`${row.kind}_text`] = row.text;
      if (row.kind === "scene") next.changes = {};
    });
  } else if (row.kind === "light") {
    const lamp = plan.things.find((one) => one.kind === "lamp");
    if (!lamp) {
      refuse({ problem: "This scene has no lamp.", fix: "add a lamp on the plan first" });
      return;
    }
    history_.change((next) => {
      for (const key of ["intensity_cd", "luminous_flux_lm", "beam_deg"]) {
        delete next.changes[`lamp.${lamp.name}.${key}`];
        next.changes[`lamp.${lamp.name}.${key}`] = null;
      }
      next.changes[`lamp.${lamp.name}.photometry`] = row.text;
    });
  } else {
    plan.photo = { kind: "photograph", file: row.file, width_m: 8 };
    closeFiles(false);
    plan.begin("photo", "Choose the place of the photo's lower edge on the plan");
  }
}

by("new").addEventListener("click", async () => {
  const answer = await fetch("/new", { method: "POST", headers: { "content-type": "application/json" },
    body: JSON.stringify({ light: "town-night", infrared: "infrared-850-medium" }) });
  const row = answer.ok ? await answer.json() : await refusalOf(answer);
  if (row.step === "refused") refuse(row); else use(row);
});

if (broken) told("The address could not be read as a whole; what could be is shown.");
changed(true);
