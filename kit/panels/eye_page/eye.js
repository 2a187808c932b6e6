// Seeing practice: one question at a time, answered by two large buttons or the arrow keys.

const SILENT = 8000; // ms without an answer until the page says so

class Practice {
  constructor(model, root) {
    this.model = model;
    this.began = 0;
    this.receive = (message) => this.take(message);
    this.banner = make("p", { class: "ke-banner", role: "alert", hidden: true });
    this.place = make("div", { class: "ke-place" });
    this.frame = make("div", { class: "kit-eye", role: "region", "aria-label": "Seeing practice",
      "data-lm-suppress-shortcuts": "true", onkeydown: (event) => this.key(event) }, this.banner, this.place);
    root.append(this.frame);
    model.on("msg:custom", this.receive);
    this.post({ op: "hello" });
  }

  end() {
    this.model.off("msg:custom", this.receive);
    clearInterval(this.clock);
    clearTimeout(this.patience);
  }

  post(message) {
    clearTimeout(this.patience);
    this.patience = setTimeout(() => this.say("The kit does not answer. Run the notebook again; finished sessions are kept."), SILENT);
    this.model.send(message);
  }

  say(text) {
    this.banner.textContent = text;
    this.banner.hidden = !text;
  }

  take(message) {
    clearTimeout(this.patience);
    this.say(message.op === "fault" ? message.text : "");
    if (message.op === "fault") this.busy = false;
    else this[message.op](message);
  }

  setup(message) {
    clearInterval(this.clock);
    const select = (rows, chosen) => {
      const made = make("select", {});
      options(made, rows, chosen);
      return made;
    };
    const kept = this.chosen || {};
    const learner = make("input", { type: "text", maxlength: "60", list: "ke-learners", value: kept.learner || message.learners[0] || "" });
    const names = make("datalist", { id: "ke-learners" }, ...message.learners.map((value) => make("option", { value })));
    const trait = select(message.contrasts, kept.contrast || message.contrasts[0][0]);
    const standard = select(message.standards, kept.standard || message.standard);
    const choice = select([["one", "one dog: under or over what is asked"], ["two", "two dogs: which has more"]], kept.choice || "one");
    const method = select([["staircase", "follow my eye (staircase)"], ["constant", "the same steps each time"]], kept.method || "staircase");
    const tell = make("input", { type: "checkbox", checked: Boolean(kept.tell) });
    const start = () => {
      this.chosen = { learner: learner.value, contrast: trait.value, standard: standard.value,
        choice: choice.value, method: method.value, tell: tell.checked };
      this.began = performance.now();
      this.busy = true;
      this.post({ op: "start", ...this.chosen });
    };
    this.place.replaceChildren(
      make("div", { class: "ke-form" }, field("Your name", learner), names, field("What to see", trait),
        field("Against the standard", standard), field("Show", choice), field("Order", method),
        make("label", { class: "ke-tick" }, tell, make("span", { text: "tell me after each answer" }))),
      button(`Start: ${message.minutes} minutes`, start, { class: "ke-main" }));
  }

  trial(message) {
    if (!this.began) this.began = performance.now();
    this.now = message;
    this.busy = false;
    if (!this.clock) this.clock = setInterval(() => this.tick(), 500);
    this.left = make("span", { class: "ke-left" });
    const [under, over] = message.choices;
    const pair = message.choices.includes("A");
    // Of two dogs the left one, A, is the one that may be "over".
    const first = pair ? button(over, () => this.answer(true)) : button(under, () => this.answer(false));
    const second = pair ? button(under, () => this.answer(false)) : button(over, () => this.answer(true));
    this.answers = [first, second];
    this.picture = make("div", { class: "ke-picture" });
    this.picture.innerHTML = message.svg;
    this.place.replaceChildren(
      make("div", { class: "ke-head" }, make("strong", { text: message.question }), this.left),
      this.picture,
      make("div", { class: "ke-answers" }, first, second),
      make("div", { class: "ke-foot" }, make("span", { class: "ke-told", role: "status", text: message.told || `${message.number} answered · keys ← and →` }),
        button("Stop and see", () => this.stop())));
    first.focus({ preventScroll: true });
    this.tick();
  }

  seconds() { return (performance.now() - this.began) / 1000; }

  tick() {
    if (!this.now || !this.left) return;
    const left = Math.max(0, this.now.seconds - this.seconds());
    this.left.textContent = left ? `${Math.floor(left / 60)}:${String(Math.floor(left % 60)).padStart(2, "0")}` : "last one";
  }

  answer(over) {
    if (this.busy) return;
    this.busy = true;
    this.post({ op: "answer", number: this.now.number, over, at: this.seconds() });
  }

  stop() {
    this.busy = true;
    this.post({ op: "finish" });
  }

  key(event) {
    if (!this.now || !["ArrowLeft", "ArrowRight"].includes(event.key)) return;
    event.preventDefault();
    this.answers[event.key === "ArrowLeft" ? 0 : 1].click();
  }

  result(message) {
    clearInterval(this.clock);
    this.clock = null;
    this.now = null;
    this.began = 0;
    const pictures = message.pictures.map((svg) => {
      const made = make("div", { class: "ke-chart" });
      made.innerHTML = svg;
      return made;
    });
    this.place.replaceChildren(
      make("div", { class: "ke-said", role: "status" }, ...message.sentences.map((text) => make("p", { text }))),
      make("div", { class: "ke-charts" }, ...pictures),
      button("Practise again", () => this.post({ op: "hello" }), { class: "ke-main" }));
  }
}

export default {
  render({ model, el }) {
    const practice = new Practice(model, el);
    return () => practice.end();
  },
};
