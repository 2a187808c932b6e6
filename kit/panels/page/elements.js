// Small helpers to build the page; nothing here knows about dogs.

function make(tag, settings = {}, ...children) {
  const element = document.createElement(tag);
  // A notebook's own keys (b adds a cell, x cuts one) stay out of whatever can have the focus.
  if (["button", "select", "input", "textarea"].includes(tag) || "tabindex" in settings)
    element.setAttribute("data-lm-suppress-shortcuts", "true");
  for (const [name, value] of Object.entries(settings)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "text") element.textContent = value;
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

function button(words, action, settings = {}) {
  return make("button", { type: "button", onclick: action, ...settings, text: words });
}

// A field with its label above it, and the control inside.
function field(words, control) {
  return make("label", { class: "kp-field" }, make("span", { text: words }), control);
}

function options(select, rows, chosen) {
  const wanted = JSON.stringify([rows, chosen]);
  if (select.dataset.shown === wanted) return;
  select.dataset.shown = wanted;
  select.replaceChildren(...rows.map(([value, words]) => make("option", { value, text: words })));
  select.value = chosen;
}

// Write words, unless they stand there: what is written anew is laid out anew.
function write(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

// Show these children, touching only what is not there yet: what stays need not be laid out again.
function showChildren(parent, children) {
  const wanted = new Set(children);
  children.forEach((child, place) => {
    const now = parent.children[place];
    if (now === child) return;
    if (now && !wanted.has(now)) now.replaceWith(child);
    else parent.insertBefore(child, now || null);
  });
  while (parent.children.length > children.length) parent.lastElementChild.remove();
}

function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

// Local time with its offset, to the millisecond: 2026-11-25T09:30:11.123+01:00.
function moment() {
  const now = new Date();
  const two = (number) => String(Math.trunc(Math.abs(number))).padStart(2, "0");
  const offset = -now.getTimezoneOffset();
  const day = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  const time = `${two(now.getHours())}:${two(now.getMinutes())}:${two(now.getSeconds())}`;
  const part = String(now.getMilliseconds()).padStart(3, "0");
  return `${day}T${time}.${part}${offset < 0 ? "-" : "+"}${two(offset / 60)}:${two(offset % 60)}`;
}

// crypto.randomUUID exists only on secure pages; a tablet may come by plain http.
function newIdentity() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const text = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [[0, 8], [8, 12], [12, 16], [16, 20], [20, 32]].map(([a, b]) => text.slice(a, b)).join("-");
}
