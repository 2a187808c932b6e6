// The head of the panel: the dog, the stand, the side, the standard; hands and settings behind a button.

class Setup {
  constructor(desk) {
    this.desk = desk;
    const order = (message) => desk.line.order(message);
    const choice = (name, message) => make("select", { "aria-label": name,
      onchange: (event) => order(message(event.target.value)) });
    this.dog = make("select", { "aria-label": "Dog", onchange: () => this.chooseDog() });
    this.standard = choice("Standard", (standard) => ({ op: "standard", standard }));
    this.stand = button("", () => { order({ op: "stand" }); desk.entry.input.focus(); }, { class: "kp-stand" });
    this.side = button("", () => order({ op: "side",
      side: desk.parts.setup.side === "left" ? "right" : "left" }));
    this.more = button("Hands and settings", () => this.toggle(), { "aria-expanded": "false" });
    this.head = make("div", { class: "kp-head" }, this.dog, this.stand, this.side, this.standard, this.more);
    this.buildMore(order, choice);
    this.buildNew(order);
  }

  buildMore(order, choice) {
    const hands = () => order({ op: "hands", measurer: this.measurer.value, writer: this.writer.value });
    const name = () => make("input", { type: "text", autocomplete: "off", maxlength: "60", onchange: hands });
    this.measurer = name();
    this.writer = name();
    this.units = choice("A bare number means", (units) => ({ op: "units", units }));
    this.repeats = choice("Readings of each before moving on", (repeats) => ({ op: "repeats", repeats }));
    this.session = choice("Session", (session) => ({ op: "session", session }));
    this.records = make("p", { class: "kp-records" });
    this.panel = make("div", { class: "kp-more kp-card", hidden: true },
      field("Who measures", this.measurer), field("Who writes", this.writer),
      field("A bare number means", this.units), field("Readings of each, one stand", this.repeats),
      field("Session", this.session), button("Done", () => this.toggle()), this.records);
  }

  buildNew(order) {
    this.name = make("input", { type: "text", autocomplete: "off", maxlength: "100" });
    this.sex = make("select", {}, ...[["", "not said"], ["dog", "dog"], ["bitch", "bitch"]].map(
      ([value, text]) => make("option", { value, text })));
    this.born = make("input", { type: "text", autocomplete: "off", placeholder: "2024-05-17 or 2024", maxlength: "10" });
    const add = () => {
      order({ op: "add_dog", name: this.name.value, sex: this.sex.value, born: this.born.value.trim() });
      this.form.hidden = true;
      this.desk.entry.input.focus();
    };
    // No form element: a notebook page does not always let Enter submit one.
    const enter = (event) => {
      if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
      event.preventDefault();
      add();
    };
    this.form = make("div", { class: "kp-more kp-new kp-card", hidden: true, role: "group",
      "aria-label": "Add a dog", onkeydown: enter },
      field("Name of the dog", this.name), field("Sex", this.sex), field("Born", this.born),
      button("Add this dog", add, { class: "kp-main" }),
      button("Cancel", () => { this.form.hidden = true; this.show(); }));
  }

  chooseDog() {
    if (this.dog.value === "+") {
      this.form.hidden = false;
      this.name.focus();
    } else if (this.dog.value) this.desk.line.order({ op: "dog", dog: this.dog.value });
  }

  toggle() {
    this.panel.hidden = !this.panel.hidden;
    this.more.setAttribute("aria-expanded", String(!this.panel.hidden));
    (this.panel.hidden ? this.desk.entry.input : this.measurer).focus();
  }

  show() {
    const { setup, fixed } = this.desk.parts;
    delete this.dog.dataset.shown;
    const none = setup.dog ? [] : [["", "Choose a dog …"]];
    options(this.dog, [...none, ...setup.dogs, ["+", "+ Add a dog …"]], setup.dog);
    if (!setup.dogs.length && this.form.hidden && !this.wasEmpty) this.form.hidden = false;
    this.wasEmpty = !setup.dogs.length;
    const listed = fixed.standards.some(([key]) => key === setup.standard);
    const own = listed ? [] : [[setup.standard, setup.standardTitle]];
    options(this.standard, [...own, ...fixed.standards], setup.standard);
    this.stand.textContent = `Stand ${setup.stand} · stand anew`;
    this.stand.setAttribute("aria-label", `This is stand ${setup.stand}; press when the dog was stood anew`);
    this.side.textContent = `${capital(setup.side)} side`;
    this.side.setAttribute("aria-label", `Measuring the ${setup.side} side; press for the other`);
    const hands = [setup.measurer && `${setup.measurer} measures`, setup.writer && `${setup.writer} writes`];
    this.more.textContent = hands.filter(Boolean).join(" · ") || "Hands and settings";
    if (document.activeElement !== this.measurer) this.measurer.value = setup.measurer;
    if (document.activeElement !== this.writer) this.writer.value = setup.writer;
    options(this.units, [["cm", "cm and kg"], ["in", "inches and lb"]], setup.units);
    options(this.repeats, [1, 2, 3, 4].map((n) => [String(n), String(n)]), String(setup.repeats));
    options(this.session, [["", "a new session"], ...setup.sessions], setup.session);
    this.records.textContent = `Stored in ${fixed.records}`;
  }
}
