// A few words kept with a reading: the dog shifted, the coat is thick here.

class NoteLine {
  constructor(desk) {
    this.desk = desk;
    this.about = null;
    this.words = make("span");
    this.input = make("input", { type: "text", maxlength: "200", autocomplete: "off", class: "kp-note",
      onkeydown: (event) => this.key(event) });
    this.element = make("div", { class: "kp-noteline", hidden: true },
      make("label", { class: "kp-field" }, this.words, this.input),
      make("div", { class: "kp-buttons" }, button("Keep note", () => this.keep()),
        button("Leave it", () => this.close())));
  }

  key(event) {
    if (event.isComposing) return;
    if (event.key !== "Enter" && event.key !== "Escape") return;
    event.preventDefault();
    event.stopPropagation();
    if (event.key === "Enter") this.keep();
    else this.close();
  }

  open() {
    if (!this.desk.ready()) return;
    this.about = this.desk.latest();
    if (!this.about) {
      this.desk.entry.say("There is no reading yet to note something on.", "refused");
      return;
    }
    this.words.textContent = `Note on ${this.about.words}`;
    this.element.hidden = false;
    this.input.focus();
  }

  keep() {
    const text = this.input.value.trim();
    if (text) this.desk.line.order({ op: "note", reading: this.about.id, text });
    this.input.value = "";
    this.close();
  }

  close() {
    this.element.hidden = true;
    this.desk.entry.input.focus();
  }
}
