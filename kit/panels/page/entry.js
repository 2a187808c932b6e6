// The middle of the panel: the field, what to measure now and where, questions, repeats.

const KEYS = [
  ["Enter", "stores and moves on"], ["Shift+Enter", "stores and stays"], ["↑ ↓", "move"],
  ["Alt+↓", "skips"], ["Ctrl+Z", "takes back"], ["Ctrl+Enter", "it is right"],
  ["Alt+↑", "read it again"], ["Alt+N", "notes"],
];

class EntryCard {
  constructor(desk) {
    this.desk = desk;
    this.pictures = {};
    this.asked = new Set();
    this.place = make("p", { class: "kp-place" });
    this.title = make("h2", { class: "kp-title", id: newIdentity() });
    this.how = make("p", { class: "kp-how" });
    this.careful = make("span");
    this.caution = make("p", { class: "kp-caution" }, make("strong", { text: "Care: " }), this.careful);
    this.input = make("input", {
      type: "text", autocomplete: "off", autocorrect: "off",
      autocapitalize: "off", spellcheck: "false", enterkeyhint: "next", maxlength: "40",
      class: "kp-input", "aria-labelledby": this.title.id,
      onkeydown: (event) => this.key(event),
    });
    this.unit = make("span", { class: "kp-unit" });
    this.store = button("Store", () => this.enter(false), { class: "kp-main" });
    this.mode = make("p", { class: "kp-mode", hidden: true });
    this.said = make("p", { class: "kp-said", role: "status", "aria-live": "polite" });
    this.question = make("div", { class: "kp-question", role: "alert", hidden: true });
    this.repeats = make("div", { class: "kp-repeats", role: "group", "aria-label": "Repeats" });
    this.tool = make("select", { "aria-label": "Instrument", onchange: () => desk.line.order({
      op: "tool", key: desk.here, tool: this.tool.value }) });
    const back = (op) => () => { desk.line.order({ op }); this.input.focus(); };
    this.undo = button("Take back", back("undo"), { title: "Ctrl+Z in the empty field" });
    this.redo = button("Bring back", back("redo"));
    this.skip = button("Skip", () => desk.skip(), { title: "Alt and arrow down" });
    this.note = new NoteLine(desk);
    this.toNote = button("Note", () => this.note.open(), { title: "Alt and N: a note on the latest reading" });
    this.where = make("div", { class: "kp-where" });
    this.keys = make("p", { class: "kp-keys" }, ...KEYS.map(([key, words]) =>
      make("span", {}, make("kbd", { text: key }), ` ${words}`)));
    this.element = make("section", { class: "kp-card kp-entry", "aria-label": "Entry" },
      this.place, this.title, this.question, this.mode,
      make("div", { class: "kp-line" }, this.input, this.unit, this.store),
      this.said, this.note.element, this.repeats, this.where,
      make("div", { class: "kp-buttons" }, this.undo, this.redo, this.skip, this.toNote, this.tool),
      make("div", { class: "kp-words" }, this.how, this.caution));
  }

  key(event) {
    const { desk } = this;
    const command = event.ctrlKey || event.metaKey;
    const act = (action) => { event.preventDefault(); event.stopPropagation(); action(); };
    if (event.isComposing) return;
    if (event.key === "Enter" && command) act(() => this.confirm());
    else if (event.key === "Enter" && !event.altKey) act(() => this.enter(event.shiftKey));
    else if (event.key === "ArrowDown" && event.altKey) act(() => desk.skip());
    else if (event.key === "ArrowUp" && event.altKey) act(() => this.readAgain());
    else if (event.code === "KeyN" && event.altKey) act(() => this.note.open());
    else if (event.key === "ArrowDown") act(() => desk.step(1));
    else if (event.key === "ArrowUp") act(() => desk.step(-1));
    else if (event.key === "Escape" && desk.instead) act(() => desk.goTo(desk.here));
    else if (command && event.key.toLowerCase() === "z" && this.input.value === "")
      act(() => desk.line.order({ op: event.shiftKey ? "redo" : "undo" }));
  }

  enter(stay) {
    const text = this.input.value;
    if (!this.desk.ready()) return;
    if (!text.trim()) {
      this.say("Nothing was written. Write the reading, or skip it.", "refused");
      return;
    }
    this.input.value = "";
    this.desk.enter(text, stay);
  }

  confirm() {
    const asked = this.desk.parts.questions.open[0];
    if (asked) this.desk.line.order({ op: "confirm", reading: asked.reading });
  }

  readAgain(asked = this.desk.parts.questions.open[0]) {
    if (!asked) return;
    this.desk.goTo(asked.key, { id: asked.reading, raw: asked.raw }, asked.side);
  }

  say(words, kind = "") {
    this.desk.toTell = "";
    this.said.textContent = words;
    this.said.dataset.kind = kind;
  }

  show() {
    const { desk } = this;
    const { fixed } = desk.parts;
    const known = desk.known[desk.here];
    const item = desk.items[desk.here];
    const number = desk.keys.indexOf(desk.here) + 1;
    const side = known.sided ? ` · ${desk.parts.setup.side} side` : "";
    write(this.place,
      `${number} of ${desk.keys.length} · ${fixed.sections[desk.here]}${side} · stand ${desk.parts.setup.stand}`);
    write(this.title, capital(known.title));
    write(this.how, known.how);
    this.caution.hidden = !known.caution;
    write(this.careful, known.caution);
    write(this.unit, item.unit);
    // The keyboard of digits a tablet has for decimals knows no fraction and no minus.
    this.input.inputMode = item.unit === "cm" || item.unit === "kg" ? "decimal" : "text";
    this.input.placeholder = item.example;
    this.mode.hidden = !desk.instead;
    if (desk.instead) write(this.mode, `Reading again: this replaces ${desk.instead.raw} (Esc leaves it)`);
    this.showRepeats(item);
    const tools = Object.entries(fixed.instruments).filter(([, [, kind]]) => kind === known.kind);
    options(this.tool, tools.map(([key, [words]]) => [key, words]), item.tool);
    this.undo.disabled = !desk.parts.setup.canUndo;
    this.redo.hidden = !desk.parts.setup.canRedo;
    this.showWhere();
  }

  showRepeats(item) {
    const wanted = JSON.stringify([this.desk.here, item, this.desk.instead]);
    if (this.repeats.dataset.shown === wanted) return;
    this.repeats.dataset.shown = wanted;
    const chips = item.rows.map((row, place) => button(row.raw, () => this.readAgain({
      reading: row.id, raw: row.raw, key: item.key, side: item.side }), {
      class: `kp-chip${row.asked ? " kp-asked" : ""}${row.note ? " kp-noted" : ""}`,
      "aria-label": `Reading ${place + 1}: ${row.echo}, stand ${row.stand}, stored ${row.stored}` +
        `${row.asked ? ", asked about" : ""}${row.note ? `, note: ${row.note}` : ""}; press to read it again`,
      title: `${row.echo} · stand ${row.stand} · ${row.measurer || "measurer not named"} · stored ${row.stored}` +
        `${row.note ? ` · ${row.note}` : ""}`,
    }));
    const sum = item.rows.length > 1 ? `spread ${item.spread}, mean ${item.mean}` : "";
    this.repeats.hidden = item.rows.length === 0;
    this.repeats.replaceChildren(...chips, make("span", { class: "kp-spread", text: sum }));
  }

  // The picture of where to measure next comes after the picture of the dog, which has to be quick;
  // until then none stands there, because the one before would show another measurement.
  showWhere() {
    const { here } = this.desk;
    if (this.where.dataset.shown === here) return;
    const svg = this.desk.drawing ? "" : this.pictures[here] || "";
    this.where.innerHTML = svg;
    this.where.dataset.shown = svg ? here : "";
  }

  showQuestions() {
    const { open } = this.desk.parts.questions;
    const wanted = JSON.stringify(open);
    if (this.question.dataset.shown === wanted) return;
    this.question.dataset.shown = wanted;
    this.question.hidden = open.length === 0;
    if (!open.length) return;
    this.element.scrollTop = 0;
    const count = open.length > 1 ? `Question 1 of ${open.length}: ` : "Question: ";
    this.question.replaceChildren(
      make("p", {}, make("strong", { text: count }), capital(open[0].text)),
      make("div", { class: "kp-buttons" },
        button("It is right", () => { this.confirm(); this.input.focus(); }, { title: "Ctrl+Enter" }),
        button("Read it again", () => this.readAgain(), { title: "Alt and arrow up" })));
  }
}
