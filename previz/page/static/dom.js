// Making parts of the page.

const SVG_NAMESPACE = "http://www.w3.org/2000/svg";

/** An element with properties and children: made("button", {class: "x", onclick}, "text"). */
export function made(name, properties = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "class") element.className = value;
    // By the object model: the page's policy forbids style attributes.
    else if (key === "style") element.style.cssText = value;
    else if (key in element && typeof value !== "string") element[key] = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

/** An SVG element with attributes and children. */
export function svgMade(name, attributes = {}, ...children) {
  const element = document.createElementNS(SVG_NAMESPACE, name);
  for (const [key, value] of Object.entries(attributes))
    if (value !== null && value !== undefined && value !== false) element.setAttribute(key, String(value));
  element.append(...children);
  return element;
}

export function byId(id) {
  return document.getElementById(id);
}

/** Put text into an element only if it changed, so that screen readers are left in peace. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Put a value into a field unless a person is writing in it. */
export function fill(field, value) {
  const text = String(value);
  if (document.activeElement !== field && field.value !== text) field.value = text;
}

let numbered = 0;

/** An id that nothing else on the page has. */
export function freshId(stem) {
  numbered += 1;
  return `${stem}-${numbered}`;
}

const NUMBER = /^T?\s*([+-]?(?:\d+\.?\d*|\.\d+))\s*[%°\p{L}]*$/u;

/** The number that was written, NaN for none: '3200 K', '−1,5', 'T2.8'. */
export function numberOf(text) {
  const found = text.trim().replace(",", ".").replace("−", "-").match(NUMBER);
  return found ? Number(found[1]) : NaN;
}

/** A labelled number field that takes its value on Enter or when it is left. */
export function numberField(label, { low, high, step, unit = "", words = {}, take }) {
  const id = freshId("number");
  const field = made("input", { id, type: "text", inputmode: "decimal", autocomplete: "off",
    class: "number", spellcheck: "false" });
  let before = "";
  const mark = (wrong) => {
    field.setAttribute("aria-invalid", String(wrong));
    field.setCustomValidity(wrong ? `A number from ${low} to ${high}.` : "");
  };
  const accept = () => {
    const value = words[field.value.trim()] ?? numberOf(field.value);
    const good = value >= low && value <= high;
    mark(!good);
    if (good) {
      before = field.value;
      take(value);
    }
    return good;
  };
  field.addEventListener("focus", () => {
    before = field.value;
  });
  field.addEventListener("change", accept);
  // What cannot be is not left standing as if it were set.
  field.addEventListener("blur", () => {
    if (field.validity.valid) return;
    mark(false);
    field.value = before;
  });
  field.addEventListener("input", () => field.setCustomValidity(""));
  field.addEventListener("keydown", (event) => {
    const sign = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (event.key === "Enter") {
      event.preventDefault();
      if (!accept()) field.reportValidity();
      field.select();
    } else if (sign && step) {
      event.preventDefault();
      const from = words[field.value.trim()] ?? numberOf(field.value);
      const to = Math.min(high, Math.max(low, (Number.isFinite(from) ? from : low) + sign * step));
      field.value = String(Number(to.toFixed(6)));
      accept();
    }
  });
  const parts = [made("label", { for: id }, label), field];
  if (unit) parts.push(made("span", { class: "unit", "aria-hidden": "true" }, unit));
  return { field, element: made("span", { class: "labelled" }, ...parts) };
}
