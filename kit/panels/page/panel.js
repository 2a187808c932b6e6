// One desk: it holds what the page knows, moves from measurement to measurement, and shows it.

const LOST = "No answer from the kit: it has stopped, was restarted, or the connection is gone. " +
  "Nothing can be entered now. Everything shown as stored is safe in the records. " +
  "What to do: in a notebook choose Run, Run All Cells; in a browser page load the page again.";

const SOON = 120; // ms until an entry is told as stored, where what follows from it is not there yet

class Desk {
  constructor(model, root) {
    this.parts = {};
    this.items = {};
    this.keys = [];
    this.known = {};
    this.here = "";
    this.instead = null;
    this.stored = "";
    this.onTable = "";
    this.drawing = false;
    this.telling = 0;
    this.toTell = ""; // words about what was stored, not yet said
    this.line = new Line(model, {
      state: (message) => this.state(message), answer: (message, order) => this.answer(message, order),
      fault: (message) => this.fault(message.text), where: (message) => this.where(message),
      alive: (alive, back) => this.alive(alive, back),
      ordered: () => this.atRest(false),
      waiting: () => this.entry.say("Waiting for the kit: not stored yet.", "waiting"),
    });
    this.entry = new EntryCard(this);
    this.setup = new Setup(this);
    this.list = new MeasurementList(this);
    this.findings = new Findings(this);
    this.log = new EntryLog();
    this.banner = make("div", { class: "kp-banner", role: "alert", hidden: true });
    this.left = make("div", { class: "kp-banner kp-left", role: "alert", hidden: true });
    this.view = make("section", { class: "kp-card kp-view", "aria-label": "Side view" });
    this.body = make("div", { class: "kp-body" }, this.entry.element, this.view,
      this.findings.element, this.list.element, this.log.element, this.entry.keys);
    this.frame = make("div", { class: "kp-frame" }, this.setup.head, this.banner, this.left,
      this.setup.form, this.setup.panel, this.body);
    this.wait = make("p", { class: "kp-wait", role: "status", text: "Opening the records …" });
    root.append(make("div", { class: "kit-panel", role: "region", "aria-label": "Measuring panel",
      // JupyterLab's own keys stay out while the cursor is in the panel.
      "data-lm-suppress-shortcuts": "true" }, this.wait, this.frame));
    this.frame.hidden = true;
  }

  ready() {
    const { setup } = this.parts;
    if (this.line.alive !== true) return false;
    if (setup && setup.dog) return true;
    this.entry.say("No dog is on the table: choose or add a dog first.", "refused");
    return false;
  }

  // What comes from the kit

  state({ parts, at, follow }) {
    const { list, ...others } = parts;
    this.tell();
    Object.assign(this.parts, others);
    if (parts.fixed) this.learn(parts.fixed);
    if (list) Object.assign(this.items, list);
    if (parts.setup) this.setup.show();
    if (parts.setup && parts.setup.dog !== this.onTable) this.changed(parts.setup);
    const all = parts.fixed || parts.setup;
    if (list || all) this.list.show(all ? this.keys : Object.keys(list));
    if (parts.findings || all) this.findings.show();
    if (parts.view) this.view.innerHTML = parts.view.svg;
    this.move(at, follow, parts);
    this.wait.hidden = true;
    this.frame.hidden = false;
    if (parts.fixed) {
      this.begin();
      this.lookBack();
      // Once more when what a page closed just now has left behind counts as left.
      setTimeout(() => this.lookBack(), STALE + BEAT);
    }
    this.atRest();
    this.drawing = this.line.queue.length > 0;
    requestAnimationFrame(() => setTimeout(() => this.entry.showWhere()));
  }

  // Words about the dog before would be taken for words about this one.
  changed(setup) {
    this.onTable = setup.dog;
    this.setup.dogChanged();
    this.stored = "";
    this.log.lines = [];
    this.log.show();
    this.entry.say(setup.dog ? `On the table: ${setup.dogName}` : "", "back");
  }

  // The cursor belongs where the first thing is to be written.
  begin() {
    this.fit();
    const written = document.activeElement && document.activeElement.matches("input, textarea, select");
    if (written && this.frame.contains(document.activeElement)) return;
    (this.parts.setup.dogs.length ? this.entry.input : this.setup.name).focus({ preventScroll: true });
  }

  // Give the columns the height that is left below the head of the page.
  fit() {
    const top = Math.min(Math.max(this.body.getBoundingClientRect().top, 60), 230);
    this.frame.style.setProperty("--room", `${window.innerHeight - top - 36}px`);
  }

  // Say, also to who watches from outside, whether everything typed is answered and shown.
  atRest(rest = this.line.queue.length === 0) {
    this.frame.dataset.rest = rest ? "yes" : "no";
  }

  move(at, follow, parts) {
    const first = !this.here;
    if (this.after) {
      if (parts.setup) { this.goTo(this.after); this.after = ""; }
    } else if (follow || first) this.goTo(at.key);
    else this.entry.show();
    if (parts.questions) this.entry.showQuestions();
  }

  learn(fixed) {
    this.keys = fixed.measurements.map((one) => one.key);
    this.known = Object.fromEntries(fixed.measurements.map((one) => [one.key, one]));
    this.list.build();
  }

  where({ pictures }) {
    Object.assign(this.entry.pictures, pictures);
    this.entry.showWhere();
  }

  fault(text) {
    this.atRest();
    this.wait.textContent = text;
    this.banner.hidden = false;
    this.banner.replaceChildren(make("p", { text }),
      button("Try again", () => { this.banner.hidden = true; this.line.post({ op: "hello" }); }));
    if (this.frame.hidden) this.wait.after(this.banner);
  }

  answer(message, order) {
    if (["add_dog", "change_dog"].includes(order.op)) {
      this.setup.added(message);
      if (message.ok && message.text) this.entry.say(message.text, "back");
      this.fit();
    } else if (order.op === "enter") this.settled(message, order);
    else if (!message.ok) this.entry.say(message.text, "refused");
    else if (message.text) this.entry.say(message.text, "back");
    if (message.ok) return;
    this.atRest();
    this.drawing = this.line.queue.length > 0;
    this.entry.showWhere();
  }

  settled(message, order) {
    const { label } = order;
    if (message.ok) {
      // Until the kit has sent what follows from it, the page knows at least that it is there.
      const row = { id: message.reading, raw: order.text, echo: message.echo, stand: this.parts.setup.stand,
        measurer: this.parts.setup.measurer, stored: message.stored, asked: false, note: "" };
      const item = this.items[order.key];
      this.stored = order.key;
      if (!order.instead) this.items[order.key] = { ...item, rows: [...item.rows, row] };
      Object.assign(label, { kind: "stored", state: `stored ${message.stored}`, words: `${label.title} ${message.echo}` });
      this.tellSoon(`Stored ${message.stored}: ${label.title} ${message.echo}`);
    } else this.refused(message, order);
  }

  // What was stored is told with what follows from it, or alone where that takes longer.
  tellSoon(words) {
    this.toTell = words;
    this.telling = this.telling || setTimeout(() => this.tell(), SOON);
  }

  tell() {
    if (!this.telling) return;
    clearTimeout(this.telling);
    this.telling = 0;
    this.log.show();
    if (this.toTell) this.entry.say(this.toTell, "stored");
  }

  // Nothing was stored: say so, and go back to it unless something else is being written.
  refused(message, order) {
    const { label } = order;
    const again = () => {
      this.goTo(order.key, order.instead ? { id: order.instead, raw: order.text } : null, order.side);
      this.entry.input.value = order.text;
      this.entry.input.focus();
      this.entry.input.select();
    };
    Object.assign(label, { kind: "refused", state: "NOT stored", again: button("Type it again", again),
      words: `${label.title} “${order.text}”: ${message.text}` });
    this.log.show();
    this.entry.say(`Not stored: ${label.title} “${order.text}”: ${message.text}`, "refused");
    if (this.entry.input.value === "" && this.line.queue.length === 0) again();
  }

  alive(alive, back) {
    this.banner.hidden = alive;
    this.entry.input.disabled = !alive;
    this.frame.classList.toggle("kp-dead", !alive);
    for (const control of this.frame.querySelectorAll("button, select, input")) control.disabled = !alive;
    if (alive) {
      if (back) this.entry.say("The kit answers again.", "back");
      if (this.here) this.entry.show();
      return;
    }
    const open = this.line.queue.filter((order) => order.op === "enter");
    const kept = open.map((order) => `${order.label.title} “${order.text}”`).join(", ");
    this.banner.replaceChildren(make("p", {}, make("strong", { text: LOST })),
      ...(open.length ? [make("p", { text: `NOT stored yet, kept on this computer: ${kept}.` })] : []));
    this.wait.textContent = LOST;
    for (const order of open) Object.assign(order.label, { kind: "refused", state: "NOT stored" });
    this.log.show();
  }

  // Entries an earlier page could not store
  lookBack() {
    if (this.line.ended || !this.left.hidden) return;
    const shelves = this.line.leftBehind(this.parts.fixed.records);
    const found = shelves.flatMap((shelf) => shelf.entries);
    if (!found.length) return;
    const words = found.map((one) => `${one.about || this.known[one.key].title} “${one.text}”`).join(", ");
    const done = (action) => () => {
      this.left.hidden = true;
      this.fit();
      found.forEach(action);
      this.line.takeDown(shelves);
      this.entry.input.focus();
    };
    this.left.hidden = false;
    this.left.replaceChildren(
      make("p", {}, make("strong", { text: "Typed earlier and not known to be stored: " }), words),
      make("div", { class: "kp-buttons" },
        button("Store them now", done((one) => this.send(one))), button("Throw them away", done(() => {}))));
    this.fit();
  }

  // What the person does

  enter(text, stay) {
    const { setup } = this.parts;
    const known = this.known[this.here];
    const order = { op: "enter", id: newIdentity(), text, stay, key: this.here, dog: setup.dog,
      side: known.sided ? setup.side : "", instead: this.instead ? this.instead.id : "", time: moment() };
    if (this.instead && this.instead.side) order.side = this.instead.side;
    this.send(order);
    const taken = this.items[this.here].rows.filter((row) => row.stand === setup.stand).length +
      this.waitingFor(this.here) - (this.instead ? 1 : 0);
    this.goTo(stay || taken < setup.repeats ? this.here : this.openAfter(this.here));
  }

  send(order) {
    this.drawing = true;
    const title = capital(this.known[order.key].title);
    const label = this.log.add({ kind: "waiting", state: "waiting", title, words: `${title} ${order.text}` });
    this.log.show();
    this.line.order({ ...order, label });
  }

  // What a note belongs to: the latest reading of this measurement, else the latest of all.
  latest() {
    const key = this.items[this.here].rows.length ? this.here : this.stored;
    const [row] = key ? this.items[key].rows.slice(-1) : [];
    return row && { id: row.id, words: `${capital(this.known[key].title)} ${row.echo}` };
  }

  waitingFor(key) {
    return this.line.queue.filter((order) => order.op === "enter" && order.key === key && !order.instead).length;
  }

  // The next measurement that was neither read nor skipped in this stand; the kit has the same rule.
  openAfter(key) {
    const place = this.keys.indexOf(key) + 1;
    const isOpen = (one) => one !== key && !this.items[one].skipped && !this.waitingFor(one) &&
      !this.items[one].rows.some((row) => row.stand === this.parts.setup.stand);
    return [...this.keys.slice(place), ...this.keys.slice(0, place)].find(isOpen) || key;
  }

  goTo(key, instead = null, side = "") {
    const moved = key !== this.here;
    this.here = key;
    if (moved) this.entry.element.scrollTop = 0; // title and field first
    this.instead = instead ? { ...instead, side } : null;
    this.entry.show();
    this.list.mark(moved);
    if (instead) {
      this.entry.input.value = instead.raw;
      this.entry.input.focus();
      this.entry.input.select();
    }
    this.fetchPictures();
  }

  fetchPictures() {
    const place = this.keys.indexOf(this.here);
    const keys = [this.here, ...this.keys.slice(place + 1, place + 4)].filter((key) => !this.entry.pictures[key]);
    if (keys.length) this.line.post({ op: "where", keys });
  }

  step(way) {
    const place = this.keys.indexOf(this.here) + way;
    if (this.keys[place]) this.goTo(this.keys[place]);
  }

  skip() {
    const known = this.known[this.here];
    this.items[this.here].skipped = true;
    this.line.order({ op: "skip", key: this.here, side: known.sided ? this.parts.setup.side : "" });
    this.entry.say(`Skipped: ${known.title}`, "back");
    this.entry.input.value = "";
    this.goTo(this.openAfter(this.here));
    this.entry.input.focus();
  }
}

export default {
  render({ model, el }) {
    const desk = new Desk(model, el);
    desk.line.start();
    const fit = () => desk.fit();
    window.addEventListener("resize", fit);
    return () => {
      desk.line.stop();
      window.removeEventListener("resize", fit);
    };
  },
};
