// The lists beside the field: all measurements, the findings, the last entries.

function stateOf(item, stand) {
  const now = item.rows.filter((row) => row.stand === stand).length;
  if (item.rows.some((row) => row.asked)) return ["asked", "?", `asked about, ${item.rows.length}×`];
  if (now) return ["done", "✓", `done ${item.rows.length}×`];
  if (item.skipped) return ["skipped", "–", "skipped"];
  if (item.rows.length) return ["earlier", "·", `${item.rows.length}× in earlier stands`];
  return ["open", "", "not read"];
}

class MeasurementList {
  constructor(desk) {
    this.desk = desk;
    this.count = make("span", { class: "kp-count" });
    this.rows = {};
    this.list = make("ol", { class: "kp-list", onkeydown: (event) => this.key(event) });
    this.element = make("section", { class: "kp-card kp-all", "aria-label": "All measurements" },
      make("h3", {}, "All measurements ", this.count), this.list);
  }

  key(event) {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || event.altKey) return;
    event.preventDefault();
    const all = [...this.list.querySelectorAll("button")];
    const next = all[all.indexOf(document.activeElement) + step];
    if (next) next.focus();
  }

  build() {
    const { desk } = this;
    let section = "";
    const parts = [];
    for (const key of desk.keys) {
      if (desk.parts.fixed.sections[key] !== section) {
        section = desk.parts.fixed.sections[key];
        parts.push(make("li", { class: "kp-section", text: section }));
      }
      const sign = make("span", { class: "kp-sign", "aria-hidden": "true" });
      const words = make("span", { class: "kp-name", text: capital(desk.known[key].title) });
      const value = make("span", { class: "kp-value" });
      const spoken = make("span", { class: "kp-spoken" });
      const jump = button("", () => { desk.goTo(key); desk.entry.input.focus(); });
      jump.append(sign, words, value, spoken);
      parts.push(make("li", {}, jump));
      this.rows[key] = { jump, sign, value, spoken };
    }
    this.list.replaceChildren(...parts);
  }

  show(keys) {
    const { desk } = this;
    for (const key of keys) {
      const [name, sign, words] = stateOf(desk.items[key], desk.parts.setup.stand);
      const row = this.rows[key];
      row.jump.dataset.state = name;
      write(row.sign, sign);
      write(row.value, desk.items[key].mean);
      write(row.spoken, ` ${words}`);
    }
    const done = desk.keys.filter((key) => desk.items[key].rows.length).length;
    write(this.count, `${done} of ${desk.keys.length} read`);
  }

  mark(scroll) {
    if (this.marked) this.marked.removeAttribute("aria-current");
    this.marked = this.rows[this.desk.here].jump;
    this.marked.setAttribute("aria-current", "step");
    // With the frame, which lays the page out anyway.
    if (scroll) requestAnimationFrame(() => this.scroll());
  }

  // Scroll the list alone: scrollIntoView would move the whole notebook.
  scroll() {
    const top = this.marked.offsetTop - this.list.offsetTop;
    this.list.scrollTop = top - this.list.clientHeight / 3;
  }
}

class Findings {
  constructor(desk) {
    this.desk = desk;
    this.marks = {};
    this.shown = new Map();
    this.heralded = make("strong");
    this.advised = make("span");
    this.take = button("Go there", () => this.go());
    this.heading = make("h3", { text: "Findings" });
    this.list = make("div", { class: "kp-findings", tabindex: "0", role: "group", "aria-label": "Findings" });
    this.element = make("section", { class: "kp-card kp-results", "aria-label": "What it says" },
      make("div", { class: "kp-nextline" },
        make("p", { class: "kp-next" }, this.heralded, this.advised), this.take),
      this.heading, this.list);
  }

  go() {
    const { nextKey, nextAgain } = this.desk.parts.findings;
    if (nextAgain) this.desk.line.order({ op: "stand" });
    this.desk.after = nextKey;
    if (!nextAgain) this.desk.goTo(nextKey);
    this.desk.entry.input.focus();
  }

  show() {
    const { findings } = this.desk.parts;
    write(this.heralded, findings.nextKey ? "Take next: " : "");
    write(this.advised, capital(findings.next));
    this.take.hidden = !findings.nextKey;
    write(this.take, findings.nextAgain ? "Stand anew" : "Go there");
    const made = findings.made.reduce((count, [, group]) => count + group.length, 0);
    write(this.heading, `Findings: ${made} of ${made + findings.rest.length} made`);
    this.before = this.shown;
    this.shown = new Map();
    const groups = findings.made.flatMap(([region, group]) => [
      this.kept(`h4 ${region}`, () => make("h4", { text: region })),
      ...group.map((finding) => this.kept(JSON.stringify(finding), () => this.made(finding)))]);
    if (findings.rest.length) groups.push(this.kept("h4", () => make("h4", { text: "Still open" })));
    showChildren(this.list, [...groups,
      ...findings.rest.map((finding) => this.kept(JSON.stringify(finding), () => this.open(finding)))]);
  }

  // What says the same as before stays the same element; of two that say the same, each its own.
  kept(words, build) {
    if (this.shown.has(words)) return this.kept(`${words} again`, build);
    const element = this.before.get(words) || build();
    this.shown.set(words, element);
    return element;
  }

  made(finding) {
    return make("div", { class: "kp-finding", "data-role": finding.role, title: finding.words },
      this.mark(finding), make("span", { class: "kp-name", text: capital(finding.title) }),
      make("span", { class: "kp-value", text: finding.value }),
      make("span", { class: "kp-outcome", text: finding.outcome }),
      make("span", { class: "kp-wanted", text: `asked: ${finding.wanted}; ${finding.chance}` }));
  }

  open(finding) {
    return make("div", { class: "kp-finding kp-open", "data-role": finding.role, title: finding.words },
      this.mark(finding), make("span", { class: "kp-name", text: capital(finding.title) }),
      make("span", { class: "kp-outcome", text: finding.outcome }),
      make("span", { class: "kp-wanted", text: finding.reason }));
  }

  mark(finding) {
    const { outcome } = finding;
    if (!this.marks[outcome]) {
      this.marks[outcome] = make("span", { class: "kp-mark", "aria-hidden": "true" });
      this.marks[outcome].innerHTML = this.desk.parts.fixed.marks[outcome];
    }
    return this.marks[outcome].cloneNode(true);
  }
}

class EntryLog {
  constructor() {
    this.list = make("ul", { class: "kp-log" });
    this.element = make("section", { class: "kp-card kp-last", "aria-label": "Last entries" },
      make("h3", { text: "Last entries" }), this.list);
    this.lines = [];
  }

  add(line) {
    this.lines = [line, ...this.lines].slice(0, 40);
    return line;
  }

  show() {
    this.list.replaceChildren(...this.lines.map((line) => make("li", { "data-kind": line.kind },
      make("strong", { text: line.state }), ` ${line.words}`, line.again || null)));
  }
}
