// The picture: coarse at first, whole when it comes; and a held one beside it behind a wipe.

import { by, percent } from "/static/dom.js";

const MOST_BYTES = 12e6;
const DEPTH_AT = 24;  // of a PNG's bits a channel (ISO/IEC 15948, 11.2.2)

async function sizeOf(file) {
  const head = new Uint8Array(await file.slice(0, 25).arrayBuffer());
  const begins = String(head.slice(0, 3));
  const wrong = { problem: "This is no picture.", given: file.name, allowed: "PNG or JPEG",
    fix: "save the capture as PNG or JPEG" };
  if (begins !== "137,80,78" && begins !== "255,216,255") throw wrong;
  if (file.size > MOST_BYTES) {
    throw { ...wrong, problem: "This capture is too large.", allowed: "at most 12 MB",
      fix: "make it smaller" };
  }
  if (begins === "137,80,78" && head[DEPTH_AT] > 8) {
    throw { ...wrong, problem: "This capture has more than 8 bits a channel.",
      allowed: "PNG or JPEG of 8 bits a channel, as a screen shows it",
      fix: "save it again with 8 bits; how its levels become a screen's is not in the file" };
  }
  const picture = await createImageBitmap(file).catch(() => { throw wrong; });
  return { width: picture.width, height: picture.height };
}

export class Stage {
  constructor() {
    this.held = null;
    this.shown = null;
    by("hold").addEventListener("click", () => this.hold());
    by("release").addEventListener("click", () => this.release());
    by("wipe").addEventListener("input", () => this.wiped());
    by("frame").addEventListener("pointerdown", (event) => this.pulled(event));
  }

  titled(scene, camera) {
    by("caption").textContent = `${scene}. ${camera}.`;
    by("now").alt = `The predicted picture: ${scene}, seen by ${camera}`;
  }

  show(picture, target, coarse, answer = null) {
    const image = by("now");
    image.src = picture;
    image.classList.toggle("coarse", coarse);
    image.onload = () => {
      by("frame").style.setProperty("--ratio", String(image.naturalWidth / image.naturalHeight));
    };
    this.shown = { picture, answer, coarse };
    const [left, top, right, bottom] = target;
    const mark = by("mark");
    mark.hidden = false;
    const room = 0.006;
    Object.assign(mark.style, { left: `${100 * (left - room)}%`, top: `${100 * (top - room)}%`,
      width: `${100 * (right - left + 2 * room)}%`, height: `${100 * (bottom - top + 2 * room)}%` });
  }

  hold() {
    if (!this.shown) return;
    this.keep(this.shown.picture, this.shown.answer
      ? `A: ${this.shown.answer.word}, ${percent(this.shown.answer.probability)}` : "A: held");
  }

  keep(picture, told) {
    by("held").src = picture;
    by("held-told").textContent = told;
    for (const id of ["held", "wipe-label", "release", "edge"]) by(id).hidden = false;
    this.held = picture;
    this.wiped();
  }

  // A capture behind the wipe; rejects with what is wrong with it, in the parts of a refusal.
  async capture(file) {
    const size = await sizeOf(file);
    const reader = new FileReader();
    reader.onload = () => this.keep(reader.result, `A: ${file.name}${this.unlike(size)}`);
    reader.readAsDataURL(file);
  }

  unlike({ width, height }) {
    const now = by("now");
    const same = Math.abs(width / height / (now.naturalWidth / now.naturalHeight) - 1) < 0.02;
    return same ? "" : ` (${width} × ${height} px, another shape than the picture: stretched to it)`;
  }

  release() {
    this.held = null;
    for (const id of ["held", "wipe-label", "release", "edge"]) by(id).hidden = true;
    by("held").removeAttribute("src");
    by("held-told").textContent = "";
  }

  wiped() {
    const share = Number(by("wipe").value);
    by("held").style.clipPath = `inset(0 ${100 - share}% 0 0)`;
    by("edge").style.left = `${share}%`;
    by("wipe").setAttribute("aria-valuetext", `A on the left ${share} %`);
  }

  pulled(event) {
    if (!this.held) return;
    const box = by("frame").getBoundingClientRect();
    const move = (next) => {
      by("wipe").value = Math.round((100 * (next.clientX - box.left)) / box.width);
      this.wiped();
    };
    const end = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", end);
      window.removeEventListener("pointercancel", end);
    };
    move(event);
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
    window.addEventListener("pointercancel", end);
  }
}
