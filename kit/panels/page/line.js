// The line to the kit: orders go one at a time, in order, and wait for their answer; a heartbeat
// tells at once when nobody is there; what is not answered is kept on this computer.

const BEAT = 2000; // ms between heartbeats
const PATIENCE = 3000; // ms without any sign of life after a heartbeat
const START = 40000; // ms until the first sign: a kernel that starts has much to load
const SLOW = 1500; // ms until an entry is said to be waiting
const AGAIN = 4000; // ms until an unanswered order is sent again; the kit does it once all the same
const STALE = 10000; // ms after which another page's kept entries count as left behind
const SHELF = "conformation-unsent:";
const REMEMBERED = 50; // pages of one tab whose entries are known to be left behind

class Line {
  constructor(model, heard) {
    this.model = model;
    this.heard = heard; // what to call: state, answer, fault, where, alive, waiting
    this.queue = [];
    this.busy = false;
    this.alive = null; // null: not yet known
    this.lastSign = Date.now();
    this.records = "";
    // A page loaded again is a new one that remembers which it was before, however often.
    this.before = (sessionStorage.getItem(SHELF) || "").split(" ").filter(Boolean);
    this.page = newIdentity();
    sessionStorage.setItem(SHELF, [...this.before, this.page].slice(-REMEMBERED).join(" "));
    this.receive = (message) => this.take(message);
    this.wake = () => document.hidden || this.beat();
    this.gone = () => this.lost();
    this.changedComm = () => { if (this.model.comm_live === false) this.lost(); };
  }

  start() {
    this.model.on("msg:custom", this.receive);
    for (const name of ["comm:close", "destroy"]) this.model.on(name, this.gone);
    this.model.on("comm_live_update", this.gone);
    document.addEventListener("visibilitychange", this.wake);
    this.timer = setInterval(() => this.beat(), BEAT);
    this.post({ op: "hello" });
    this.beat();
  }

  stop() {
    clearInterval(this.timer);
    this.ended = true;
    this.rest();
    this.model.off("msg:custom", this.receive);
    for (const name of ["comm:close", "destroy"]) this.model.off(name, this.gone);
    this.model.off("comm_live_update", this.gone);
    document.removeEventListener("visibilitychange", this.wake);
  }

  beat() {
    const sent = Date.now();
    this.post({ op: "ping" });
    const patience = this.alive === null ? START : PATIENCE;
    setTimeout(() => { if (this.lastSign < sent && !this.ended) this.lost(); }, patience);
    this.keep();
  }

  post(message) {
    try {
      const sending = this.model.send(message);
      if (sending && sending.catch) sending.catch(() => this.lost());
    } catch {
      this.lost();
    }
  }

  lost() {
    if (this.alive === false) return;
    this.alive = false;
    this.rest();
    this.keep();
    this.heard.alive(false);
  }

  take(message) {
    this.lastSign = Date.now();
    if (this.alive !== true) {
      const back = this.alive === false;
      this.alive = true;
      this.heard.alive(true, back);
      if (back) this.post({ op: "hello" });
      this.next();
    }
    if (message.op === "answer") this.answered(message);
    else if (message.op !== "pong") this.heard[message.op](message);
  }

  // Put an order at the end of the queue.
  order(message) {
    this.queue.push({ id: newIdentity(), ...message });
    this.heard.ordered();
    this.keep();
    this.next();
    return this.queue[this.queue.length - 1];
  }

  next() {
    if (this.busy || this.alive !== true || this.queue.length === 0) return;
    this.busy = true;
    this.sendFirst();
    this.slow = setTimeout(() => this.heard.waiting(), SLOW);
    this.again = setInterval(() => this.alive && this.sendFirst(), AGAIN);
  }

  sendFirst() {
    const { label, ...message } = this.queue[0];
    this.post({ ...message, more: this.queue.length - 1 });
  }

  rest() {
    this.busy = false;
    clearTimeout(this.slow);
    clearInterval(this.again);
  }

  answered(message) {
    const first = this.queue[0];
    if (!first || first.id !== message.id) return; // asked by another view of this panel
    this.queue.shift();
    this.rest();
    this.keep();
    this.heard.answer(message, first);
    this.next();
  }

  // Keep unanswered entries on this computer, so that not even a closed page loses them.
  keep() {
    if (!this.records) return;
    const name = `${SHELF}${this.records}:${this.page}`;
    const entries = this.queue.filter((order) => order.op === "enter")
      .map(({ label, ...rest }) => ({ ...rest, about: label.title || label }));
    try {
      if (entries.length) localStorage.setItem(name, JSON.stringify({ at: Date.now(), entries }));
      else localStorage.removeItem(name);
    } catch { /* a full or forbidden shelf: the queue in this page still holds them */ }
  }

  // Return what earlier pages left unanswered; it stays on the shelf until something became of it.
  leftBehind(records) {
    this.records = records;
    const names = Object.keys(localStorage).filter((n) => n.startsWith(`${SHELF}${records}:`));
    return names.filter((name) => !name.endsWith(this.page)).flatMap((name) => {
      const shelf = JSON.parse(localStorage.getItem(name));
      const mine = this.before.some((page) => name.endsWith(page));
      return mine || Date.now() - shelf.at >= STALE ? [{ name, entries: shelf.entries }] : [];
    });
  }

  takeDown(shelves) {
    for (const { name } of shelves) localStorage.removeItem(name);
  }
}
