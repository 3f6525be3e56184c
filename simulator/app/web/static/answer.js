// The answer: a word, how sure, the target enlarged, what limits it and what would fix it.

import { by, make, percent } from "/static/dom.js";

export function showProbability(row) {
  if (row.word === undefined) return;
  const word = by("word");
  word.textContent = row.shown;
  word.dataset.word = row.word;
  const bar = make("div", { className: "gauge", role: "img" });
  bar.setAttribute("aria-label", `Probability ${percent(row.probability)}, interval `
    + `${percent(row.low)} to ${percent(row.high)}, target ${percent(row.wanted)}`);
  const value = make("i");
  value.style.width = `${100 * row.probability}%`;
  const interval = make("b");
  interval.style.left = `${100 * row.low}%`;
  interval.style.width = `${Math.max(0.6, 100 * (row.high - row.low))}%`;
  const target = make("u");
  target.style.left = `calc(${100 * row.wanted}% - 1px)`;
  bar.append(value, interval, target);
  by("probability").replaceChildren(bar, make("div", { className: "gauge-told" },
    make("b", {}, `${percent(row.probability)} of pictures`),
    make("span", {}, `${percent(row.low)} to ${percent(row.high)}; target ${percent(row.wanted)}`),
    make("span", { id: "standing" }, row.quick ? "quick estimate, proof follows" : "proved")));
}

export function showCloser(address) {
  by("closer").src = address;
}

export function showProof(row) {
  by("sentence").textContent = row.customer;
  by("engineer").textContent = row.engineer;
  by("cautions").replaceChildren(...row.cautions.map((text) => make("li", {}, text)));
  const rows = row.limits.slice(0, 6).map((one) => {
    const bar = make("i");
    bar.style.width = `${100 * one.share}%`;
    return make("li", {}, make("div", { className: "row" }, make("span", {}, one.name),
      make("span", {}, one.told)), make("div", { className: "track" }, bar),
    make("small", {}, one.effect));
  });
  if (!rows.length) {
    rows.push(make("li", {}, row.word === "legible" ? "Nothing: it is legible as it stands." : "Nothing alone."));
  }
  by("limits").replaceChildren(...rows);
}

// The light budget: a sentence and tables, the first with a bar for what each step leaves.
export function budgetOf(row) {
  const cells = (name, texts) => make("tr", {}, ...texts.map((text) => make(name, {}, text)));
  const tables = row.tables.map((one) => make("table", {}, make("caption", {}, one.caption),
    make("thead", {}, cells("th", one.head)),
    make("tbody", {}, ...one.rows.map((texts) => cells("td", texts)))));
  const known = row.waterfall.flat().filter((value) => value > 0);
  const [low, high] = [Math.floor(Math.log10(Math.min(...known))),
    Math.ceil(Math.log10(Math.max(...known)))];
  const at = (value) => Math.max(0, 100 * (Math.log10(value) - low) / Math.max(1, high - low));
  for (const [k, [before, after]] of row.waterfall.entries()) {
    const [left, taken] = [make("i"), make("b")];
    left.style.width = `${after > 0 ? at(after) : 0}%`;
    if (before > after) {
      taken.style.left = left.style.width;
      taken.style.width = `${at(before) - (after > 0 ? at(after) : 0)}%`;
    }
    tables[0].tBodies[0].rows[k].lastChild.append(make("div", { className: "fall",
      "aria-hidden": "true" }, left, taken));
  }
  const scale = make("p", { className: "hint" }, "Bars: what is left and, lighter, what the step "
    + `takes; from 10 to the power of ${low} to 10 to the power of ${high}, each power as wide.`);
  return [make("p", {}, row.answer), ...(tables.length ? [scale] : []), ...tables];
}

export function fade() {
  // what is told of the view before is still there, but marked as such
  by("sentence").textContent = "";
  const standing = by("standing");
  if (standing) standing.textContent = "before the change";
  by("limits").replaceChildren(make("li", {}, "Looking …"));
  by("fixes").replaceChildren();
}

export function showFixes(row, apply) {
  const rows = row.fixes.map((one) => make("li", {}, make("div", {}, `${one.told}: ${one.percent}`),
    one.effects.length ? make("small", {}, one.effects.join(" ")) : null,
    make("button", { type: "button", on: { click: () => apply(one) } }, "Apply")));
  for (const [k, one] of row.fixes.entries()) {
    rows[k].querySelector("button").setAttribute("aria-label", `Apply: ${one.told}`);
  }
  if (!rows.length) rows.push(make("li", {}, "No change was found that helps, or none is needed."));
  by("fixes").replaceChildren(...rows);
}
