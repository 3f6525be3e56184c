// Small helpers to make elements; texts are texts, never HTML.

export const by = (id) => document.getElementById(id);

export function make(name, parts = {}, ...inner) {
  const out = document.createElement(name);
  for (const [key, value] of Object.entries(parts)) {
    if (key === "on") for (const [event, run] of Object.entries(value)) out.addEventListener(event, run);
    else if (key === "data") Object.assign(out.dataset, value);
    else if (key in out && key !== "list") out[key] = value;
    else out.setAttribute(key, value);
  }
  out.append(...inner.filter((one) => one !== null && one !== undefined));
  return out;
}

export function draw(name, parts = {}, ...inner) {
  const out = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(parts)) out.setAttribute(key, value);
  out.append(...inner);
  return out;
}

export function digits(value, count = 3) {
  if (!Number.isFinite(value)) return "";
  if (value === 0) return "0";
  return String(Number(value.toPrecision(count)));
}

export const percent = (share) => {
  const whole = 100 * share;
  if (whole > 99.5 && share < 1) return "> 99 %";
  if (whole < 0.5 && share > 0) return "< 1 %";
  return `${Math.round(whole)} %`;
};
