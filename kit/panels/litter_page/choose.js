// Before the round: which puppies, told by which marks, and what to measure.

class Choose {
  constructor(desk) {
    this.desk = desk;
    this.element = make("div", { class: "kl-choose" });
    this.born = "";
    this.picked = new Set();
    this.left = new Set(); // puppies that were unticked
    this.sides = "both";
    this.changing = ""; // the puppy whose particulars are open
  }

  show(state) {
    this.state = state;
    const litter = state.litters.find((one) => one.born === this.born) || state.litters[0];
    this.born = litter ? litter.born : this.born;
    if (!this.picked.size) state.usual.slice(0, 1).forEach((key) => this.picked.add(key));
    this.element.replaceChildren(
      make("h2", { text: "A round of the litter" }),
      make("p", { class: "kl-quiet", text: "Warm, short, over something soft, the dam content. Weight comes first." }),
      this.litters(litter), this.table(litter), this.lost(litter), this.newcomer(), this.what(), this.begin(litter));
  }

  litters(litter) {
    if (this.state.litters.length < 2) return make("span");
    const select = make("select", { "aria-label": "Litter", onchange: () => { this.born = select.value; this.show(this.state); } });
    options(select, this.state.litters.map((one) => [one.born, `whelped ${one.born}, ${counted(one.puppies.length)}`]), litter.born);
    return field("Litter", select);
  }

  table(litter) {
    if (!litter) return make("p", { text: "No puppy in the records has a whelping date yet. Add the first one." });
    return make("ul", { class: "kl-puppies", "aria-label": "Puppies" },
      ...litter.puppies.map((puppy) => this.puppy(puppy)));
  }

  puppy(puppy) {
    const tick = make("input", { type: "checkbox", "aria-label": `measure ${puppy.name}`, checked: !this.left.has(puppy.id),
      onchange: () => { if (tick.checked) this.left.delete(puppy.id); else this.left.add(puppy.id); } });
    const mark = make("input", { type: "text", value: puppy.mark, maxlength: "30", list: "kl-collars",
      "aria-label": `collar or mark of ${puppy.name}`,
      onchange: () => this.desk.order({ op: "mark", puppy: puppy.id, mark: mark.value }) });
    const open = button("Change …", () => { this.changing = puppy.id; this.show(this.state); },
      { class: "kl-small", "aria-label": `change ${puppy.name}, or note that it died` });
    const line = make("div", { class: "kl-puppy" },
      make("label", { class: "kl-tick" }, tick, dot(puppy.mark), make("strong", { text: puppy.name }),
        make("span", { class: "kl-quiet", text: puppy.sex })), mark, open);
    return make("li", {}, line, this.changing === puppy.id ? this.change(puppy) : null);
  }

  // What is known of a puppy, to be put right; also the day it died, which can be undone.
  change(puppy) {
    const today = moment().slice(0, 10);
    const name = make("input", { type: "text", maxlength: "60", value: puppy.name });
    const sex = sexes(puppy.sex);
    const born = make("input", { type: "date", max: today, value: this.born });
    const died = make("input", { type: "date", max: today });
    const close = () => { this.changing = ""; this.show(this.state); };
    const save = () => {
      this.desk.order({ op: "change", puppy: puppy.id, name: name.value, sex: sex.value, born: born.value, died: died.value });
      close();
    };
    setTimeout(() => name.focus());
    return make("div", { class: "kl-change", onkeydown: (event) => {
      if (event.key === "Escape") close();
      if (event.key === "Enter" && event.target.tagName === "INPUT") { event.preventDefault(); save(); } } },
      field("Name", name), field("Sex", sex), field("Whelped", born), field("Died, if it has", died),
      button("Save", save), button("Leave it", close));
  }

  lost(litter) {
    if (!litter || !litter.lost.length) return make("span");
    return make("ul", { class: "kl-lost", "aria-label": "Puppies that died" },
      ...litter.lost.map((puppy) => make("li", {}, dot(puppy.mark),
        make("span", { text: `${puppy.name} died on ${puppy.died}. Its record is kept.` }),
        button("Undo", () => this.desk.order({ op: "lives", puppy: puppy.id }),
          { class: "kl-small", "aria-label": `undo: ${puppy.name} lives` }))));
  }

  newcomer() {
    const name = make("input", { type: "text", maxlength: "60" });
    const sex = sexes("");
    const born = make("input", { type: "date", value: this.born });
    const mark = make("input", { type: "text", maxlength: "30", list: "kl-collars", placeholder: "next colour" });
    const add = () => {
      this.born = born.value;
      this.desk.order({ op: "add", name: name.value, sex: sex.value, born: born.value, mark: mark.value });
      this.focusName = true;
    };
    const form = make("div", { class: "kl-new", onkeydown: (event) => { if (event.key === "Enter") { event.preventDefault(); add(); } } },
      field("New puppy", name), field("Sex", sex), field("Whelped", born), field("Collar or mark", mark),
      button("Add", add));
    if (this.focusName) { this.focusName = false; setTimeout(() => name.focus()); }
    return make("div", {}, form,
      make("datalist", { id: "kl-collars" }, ...this.state.collars.map((value) => make("option", { value }))));
  }

  what() {
    const all = Object.fromEntries(this.state.measurements);
    const shown = [...new Set([...this.state.usual, ...this.picked])];
    const ticks = shown.map((key) => {
      const tick = make("input", { type: "checkbox", checked: this.picked.has(key),
        onchange: () => { if (tick.checked) this.picked.add(key); else this.picked.delete(key); this.show(this.state); } });
      return make("label", { class: "kl-tick" }, tick, make("span", { text: capital(all[key]) }));
    });
    const more = make("select", { "aria-label": "Another measurement", onchange: () => {
      if (more.value) { this.picked.add(more.value); this.show(this.state); } } });
    options(more, [["", "another measurement …"], ...this.state.measurements.filter(([key]) => !shown.includes(key))], "");
    const units = make("select", { "aria-label": "What a bare weight means", onchange: () => this.desk.order({ op: "units", units: units.value }) });
    options(units, [["g", "grams, cm"], ["kg", "kilograms, cm"], ["lb", "pounds, inches"]], this.state.units);
    const sides = make("select", { "aria-label": "Sides to measure", onchange: () => { this.sides = sides.value; } });
    options(sides, [["both", "left and right"], ["left", "left only"], ["right", "right only"]], this.sides);
    const twice = [...this.picked].some((key) => this.state.sided.includes(key));
    return make("div", { class: "kl-what" }, ...ticks, more, field("A bare number means", units),
      twice ? field("What a puppy has twice", sides) : null);
  }

  begin(litter) {
    const start = () => {
      const puppies = litter ? litter.puppies.filter((one) => !this.left.has(one.id)).map((one) => one.id) : [];
      this.desk.order({ op: "begin", puppies, measurements: [...this.picked], sides: this.sides });
    };
    return button("Begin the round", start, { class: "kl-main" });
  }
}

function sexes(chosen) {
  const select = make("select", {});
  options(select, [["", "sex not said"], ["dog", "dog"], ["bitch", "bitch"]], chosen);
  return select;
}

function counted(number) {
  return number === 1 ? "1 puppy" : `${number} puppies`;
}

// Colours of collars are shown beside their name, never instead of it.
const COLLAR = { red: "#c0392b", blue: "#1f5fa8", green: "#2e7d4f", yellow: "#e3c22c", orange: "#e07b1a",
  purple: "#6d3f8c", pink: "#e48fb0", white: "#ffffff", black: "#222222", brown: "#6b4423",
  "light blue": "#8fc4e8", "light green": "#a8d8a0" };

function dot(mark) {
  const colour = COLLAR[mark.trim().toLowerCase()];
  return make("span", { class: "kl-dot", "aria-hidden": "true", hidden: !colour, style: `background:${colour || "none"}` });
}
