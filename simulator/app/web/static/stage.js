// The picture: coarse at first, whole when it comes; and a held one beside it behind a wipe.

import { by, percent } from "/static/dom.js";

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
      by("frame").style.aspectRatio = `${image.naturalWidth} / ${image.naturalHeight}`;
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

  capture(file) {
    const reader = new FileReader();
    reader.onload = () => this.keep(reader.result, `A: ${file.name}`);
    reader.readAsDataURL(file);
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
    };
    move(event);
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
  }
}
