// The round: whose turn it is, one field, and the litter as a table of what was read.

const SILENT = "No answer from the kit: it has stopped or was restarted. Nothing can be entered now. " +
  "Everything shown as stored is safe. In a notebook choose Run, Run All Cells; else load the page again.";
const HELP = [["Enter", "stores and takes the next puppy"], ["Alt+↓", "skips"], ["Ctrl+Z", "takes back"]];

class LitterDesk {
  constructor(model, root) {
    this.line = new Line(model, {
      state: (message) => this.state(message), answer: (message, order) => this.answer(message, order),
      fault: (message) => this.warn(message.text), alive: (alive) => this.alive(alive),
      waiting: () => this.say("Waiting for the kit: not stored yet.", "waiting"), where: () => {}, ordered: () => {},
    });
    this.choose = new Choose(this);
    this.banner = make("p", { class: "kl-banner", role: "alert", hidden: true });
    this.said = make("p", { class: "kl-said", role: "status", "aria-live": "polite" });
    this.asked = make("p", { class: "kl-asked", role: "alert", hidden: true });
    this.who = make("h2", { class: "kl-who", id: newIdentity() });
    this.what = make("p", { class: "kl-title" });
    this.input = make("input", { type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false",
      enterkeyhint: "next", maxlength: "40", class: "kl-input", "aria-labelledby": this.who.id,
      onkeydown: (event) => this.key(event) });
    this.unit = make("span", { class: "kl-unit" });
    this.next = make("p", { class: "kl-quiet" });
    this.how = make("p", { class: "kl-quiet kl-how" });
    this.grid = make("div", { class: "kl-grid", tabindex: "0", role: "group", "aria-label": "The litter" });
    this.round = make("div", { class: "kl-round" },
      make("section", { class: "kl-card" }, this.who, this.what,
        make("div", { class: "kl-line" }, this.input, this.unit, button("Store", () => this.enter(), { class: "kl-main" })),
        this.said, this.asked,
        make("div", { class: "kl-buttons" }, button("Take back", () => this.order({ op: "undo" })),
          button("Skip", () => this.skip()), button("End the round", () => this.order({ op: "leave" }))),
        this.next, this.how,
        make("p", { class: "kl-keys" }, ...HELP.map(([key, words]) => make("span", {}, make("kbd", { text: key }), ` ${words} `)))),
      make("section", { class: "kl-card" }, this.grid));
    this.notice = make("p", { class: "kl-said", role: "status", "aria-live": "polite" });
    this.frame = make("div", { class: "kit-litter", role: "region", "aria-label": "Litter panel",
      "data-lm-suppress-shortcuts": "true" }, this.banner, this.choose.element, this.notice, this.round);
    this.round.hidden = true;
    root.append(this.frame);
  }

  order(message) { return this.line.order(message); }

  say(text, kind) {
    for (const place of [this.said, this.notice]) { place.textContent = text; place.dataset.kind = kind; }
  }

  warn(text) {
    this.banner.textContent = text;
    this.banner.hidden = !text;
  }

  alive(alive) {
    this.warn(alive ? "" : SILENT);
    for (const control of this.frame.querySelectorAll("button, select, input")) control.disabled = !alive;
  }

  state(message) {
    this.parts = message;
    this.columns = (message.plan || []).flatMap((one) => one.sides.map((side) => ({ ...one, side })));
    if (!this.line.records) this.lookBack(message.records);
    this.choose.element.hidden = message.screen !== "choose";
    this.round.hidden = message.screen !== "round";
    this.notice.hidden = message.screen === "round";
    if (message.screen === "choose") { this.choose.show(message); return; }
    // Entries on their way count: the person is further than the kit.
    this.here = this.waiting().length ? this.after() : message.now;
    this.show();
  }

  waiting() { return this.line.queue.filter((order) => order.op === "enter"); }

  // The next open turn, with what is still on its way counted as done; the kit has the same rule.
  after(skip = null) {
    const settled = [...this.parts.done, ...this.waiting(), ...(skip ? [skip] : [])];
    for (const { key, sides } of this.parts.plan) {
      for (const { id } of this.parts.puppies) {
        for (const side of sides) {
          const cell = { puppy: id, key, side };
          if (!settled.some((one) => same(one, cell))) return cell;
        }
      }
    }
    return null;
  }

  puppy(id) { return this.parts.puppies.find((one) => one.id === id); }

  column(cell) { return this.columns.find((one) => one.key === cell.key && one.side === cell.side); }

  titled(cell) { return words(this.column(cell)); }

  show() {
    const { here } = this;
    this.input.disabled = !here;
    if (!here) {
      this.who.textContent = "The round is done.";
      this.what.textContent = "Everything is stored. Touch a field of the table to read it once more.";
      this.next.textContent = "";
      this.unit.textContent = "";
      this.how.textContent = "";
    } else {
      const puppy = this.puppy(here.puppy);
      const known = this.column(here);
      this.who.replaceChildren(dot(puppy.mark), make("span", { text: puppy.name }),
        make("span", { class: "kl-mark", text: puppy.mark }));
      this.what.replaceChildren(capital(known.title), known.side ? make("strong", { text: `, ${known.side}` }) : "");
      this.unit.textContent = known.unit;
      this.how.textContent = known.how;
      const then = this.after(here);
      const alike = then && then.key === here.key && then.side === here.side;
      this.next.textContent = then ? `Then ${this.puppy(then.puppy).name}${alike ? "" : `, ${this.titled(then)}`}` : "The last one.";
      if (document.activeElement === document.body || this.round.contains(document.activeElement)) this.input.focus();
    }
    this.table();
  }

  table() {
    const { puppies, done } = this.parts;
    const cell = (puppy, column) => {
      const turn = { puppy: puppy.id, key: column.key, side: column.side };
      const own = done.filter((one) => same(one, turn));
      const on = this.waiting().filter((one) => same(one, turn));
      const read = own.filter((one) => one.reading).map((one) => one.value.split(" = ")[0]);
      const said = [...read, ...on.map((one) => `${one.text} …`)].join(", ") || (own.length ? "skipped" : "–");
      const go = button(said, () => { this.order({ op: "go", ...turn }); this.input.focus(); },
        { "aria-label": `${puppy.name}, ${words(column)}: ${said}`, "aria-current": this.here && same(this.here, turn) ? "step" : null,
          class: read.length ? "kl-read" : "" });
      return make("td", {}, go);
    };
    this.grid.replaceChildren(make("table", {},
      make("thead", {}, make("tr", {}, make("th", { text: "Puppy", scope: "col" }),
        ...this.columns.map((one) => make("th", { text: capital(words(one)), scope: "col" })))),
      make("tbody", {}, ...puppies.map((puppy) => make("tr", {},
        make("th", { scope: "row" }, dot(puppy.mark), make("span", { text: puppy.name }), make("small", { text: ` ${puppy.mark}` })),
        ...this.columns.map((one) => cell(puppy, one)))))));
  }

  key(event) {
    const act = (action) => { event.preventDefault(); event.stopPropagation(); action(); };
    if (event.isComposing) return;
    if (event.key === "Enter") act(() => this.enter());
    else if (event.key === "ArrowDown" && event.altKey) act(() => this.skip());
    else if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && this.input.value === "")
      act(() => this.order({ op: "undo" }));
  }

  enter() {
    const text = this.input.value;
    const { here } = this;
    if (!here) return;
    if (!text.trim()) { this.say("Nothing was written. Write the reading, or skip it.", "refused"); return; }
    const label = `${this.puppy(here.puppy).name}, ${this.titled(here)}`;
    this.input.value = "";
    this.order({ op: "enter", ...here, text, time: moment(), label });
    this.here = this.after();
    this.show();
  }

  skip() {
    this.input.value = "";
    if (this.here) this.order({ op: "skip" });
  }

  answer(message, order) {
    if (order.op !== "enter") {
      if (!message.ok || message.text) this.say(message.text, message.ok ? "back" : "refused");
      return;
    }
    if (message.ok) {
      this.say(`Stored ${message.stored}: ${order.label} ${message.echo}`, "stored");
      this.asked.hidden = !message.asked;
      this.asked.textContent = message.asked;
      return;
    }
    this.say(`Not stored: ${order.label} “${order.text}”: ${message.text}`, "refused");
    this.here = { puppy: order.puppy, key: order.key, side: order.side };
    if (!this.input.value) { this.input.value = order.text; this.input.select(); }
    this.show();
  }

  // Entries an earlier page could not store are said, until a person has seen them, to be typed again.
  lookBack(records) {
    const shelves = this.line.leftBehind(records);
    const found = shelves.flatMap((shelf) => shelf.entries);
    if (!found.length) return;
    const typed = found.map((one) => `${one.about || "a puppy"} “${one.text}”`).join("; ");
    this.warn(`Typed earlier and not known to be stored: ${typed}. Look at the table and type them again if they are missing.`);
    this.banner.append(" ", button("I have seen it", () => { this.line.takeDown(shelves); this.warn(""); }));
  }
}

function same(one, other) {
  return one.puppy === other.puppy && one.key === other.key && one.side === other.side;
}

function words(column) {
  return column.side ? `${column.title}, ${column.side}` : column.title;
}

export default {
  render({ model, el }) {
    const desk = new LitterDesk(model, el);
    desk.line.start();
    return () => desk.line.stop();
  },
};
