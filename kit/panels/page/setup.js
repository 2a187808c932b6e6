// The head of the panel: the dog, the stand, the side, the standard; hands and settings behind a button.

class Setup {
  constructor(desk) {
    this.desk = desk;
    const order = (message) => { desk.line.order(message); desk.entry.input.focus(); };
    const choice = (name, message) => make("select", { "aria-label": name,
      onchange: (event) => desk.line.order(message(event.target.value)) });
    this.dog = make("select", { "aria-label": "Dog", onchange: () => this.chooseDog() });
    this.standard = make("select", { "aria-label": "Standard",
      onchange: () => order({ op: "standard", standard: this.standard.value }) });
    this.stand = button("", () => order({ op: "stand" }), { class: "kp-stand" });
    this.side = button("", () => order({ op: "side",
      side: desk.parts.setup.side === "left" ? "right" : "left" }));
    this.more = button("Hands and settings", () => this.toggle(), { "aria-expanded": "false" });
    this.head = make("div", { class: "kp-head" }, this.dog, this.stand, this.side, this.standard, this.more);
    this.buildMore(choice);
    this.buildNew();
  }

  buildMore(choice) {
    const hands = () => this.desk.line.order({ op: "hands", measurer: this.measurer.value, writer: this.writer.value });
    const name = () => make("input", { type: "text", autocomplete: "off", maxlength: "60", onchange: hands });
    this.measurer = name();
    this.writer = name();
    this.units = choice("A bare number means", (units) => ({ op: "units", units }));
    this.repeats = choice("Readings of each before moving on", (repeats) => ({ op: "repeats", repeats }));
    this.session = choice("Session", (session) => ({ op: "session", session }));
    this.records = make("p", { class: "kp-records" });
    this.particulars = button("", () => this.openForm(true));
    this.panel = make("div", { class: "kp-more kp-card", hidden: true },
      field("Who measures", this.measurer), field("Who writes", this.writer),
      field("A bare number means", this.units), field("Readings of each, one stand", this.repeats),
      field("Session", this.session), this.particulars, button("Done", () => this.toggle()), this.records);
  }

  buildNew() {
    this.name = make("input", { type: "text", autocomplete: "off", maxlength: "100" });
    this.sex = make("select", {}, ...[["", "not said"], ["dog", "dog"], ["bitch", "bitch"]].map(
      ([value, text]) => make("option", { value, text })));
    this.born = make("input", { type: "text", autocomplete: "off", placeholder: "2024-05-17 or 2024", maxlength: "10" });
    this.transponder = make("input", { type: "text", inputmode: "numeric", autocomplete: "off",
      placeholder: "15 digits", maxlength: "30" });
    this.refusal = make("p", { class: "kp-refusal", role: "alert", hidden: true });
    const add = () => this.desk.line.order({ op: this.changing ? "change_dog" : "add_dog",
      dog: this.changing, name: this.name.value, sex: this.sex.value, born: this.born.value.trim(),
      transponder: this.transponder.value.trim() });
    // No form element: a notebook page does not always let Enter submit one.
    const enter = (event) => {
      if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
      event.preventDefault();
      add();
    };
    this.keep = button("Add this dog", add, { class: "kp-main" });
    this.about = make("h3", { class: "kp-about", text: "Add a dog" });
    this.form = make("div", { class: "kp-more kp-new kp-card", hidden: true, role: "group",
      "aria-label": "Add a dog", onkeydown: enter }, this.about,
      field("Name of the dog", this.name), field("Sex", this.sex), field("Born", this.born),
      field("Transponder", this.transponder), this.keep,
      button("Cancel", () => { this.form.hidden = true; this.show(); }), this.refusal);
  }

  // What became of the dog that was to be added: an emptied form is put away, a refused one stays.
  added(message) {
    this.refusal.hidden = message.ok;
    this.refusal.textContent = capital(message.text || "");
    if (!message.ok) {
      this.name.focus();
      return;
    }
    this.putAway();
    this.desk.entry.input.focus();
  }

  putAway() {
    this.fill("", {});
    this.changing = "";
    this.form.hidden = true;
  }

  // Another dog came to the table: what is written is not about that one.
  dogChanged() {
    if (this.changing) this.putAway();
  }

  fill(name, { sex = "", born = "", transponder = "" }) {
    Object.entries({ name, sex, born, transponder }).forEach(([field, value]) => { this[field].value = value; });
  }

  // One form, for a new dog or to put right what is known of the one on the table.
  openForm(changing) {
    const { setup } = this.desk.parts;
    if (changing || this.changing) this.fill(changing ? setup.dogName : "", changing ? setup : {});
    this.changing = changing ? setup.dog : "";
    if (!this.panel.hidden) this.toggle();
    this.keep.textContent = changing ? "Put it right" : "Add this dog";
    const about = changing ? `Particulars of ${setup.dogName}` : "Add a dog";
    this.form.setAttribute("aria-label", about);
    write(this.about, about);
    this.refusal.hidden = true;
    this.form.hidden = false;
    this.name.focus();
  }

  chooseDog() {
    if (this.dog.value === "+") {
      this.dog.value = this.desk.parts.setup.dog;
      this.openForm(false);
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
    write(this.stand, `Stand ${setup.stand} · stand anew`);
    this.stand.setAttribute("aria-label", `This is stand ${setup.stand}; press when the dog was stood anew`);
    write(this.side, `${capital(setup.side)} side`);
    this.side.setAttribute("aria-label", `Measuring the ${setup.side} side; press for the other`);
    const hands = [setup.measurer && `${setup.measurer} measures`, setup.writer && `${setup.writer} writes`];
    write(this.more, hands.filter(Boolean).join(" · ") || "Hands and settings");
    this.particulars.hidden = !setup.dog;
    write(this.particulars, `Put ${setup.dogName || "this dog"}’s particulars right`);
    if (document.activeElement !== this.measurer) this.measurer.value = setup.measurer;
    if (document.activeElement !== this.writer) this.writer.value = setup.writer;
    options(this.units, [["cm", "cm and kg"], ["in", "inches and lb"]], setup.units);
    options(this.repeats, [1, 2, 3, 4].map((n) => [String(n), String(n)]), String(setup.repeats));
    options(this.session, [["", "a new session"], ...setup.sessions], setup.session);
    this.records.textContent = `Stored in ${fixed.records}`;
  }
}
