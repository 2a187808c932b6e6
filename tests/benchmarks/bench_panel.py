"""How long from Enter to the refreshed pictures, in a real browser on the kit's JupyterLab.

Run it by hand: ``python tests/benchmarks/bench_panel.py``. JupyterLab is
started as ``conformation open`` starts it. The dog on the table is already fully
measured (the demo dog's readings, all of them), so every entry changes every derived figure: the
worst case. Typed as a quick hand types. Timed in the page: from the keydown of Enter to the frame
after the stored reading, findings and side view are shown. Beside it, in the same page, a bare
widget's round trip.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "browser"))

import conftest  # noqa: E402
from playwright.sync_api import Page, sync_playwright  # noqa: E402

from kit.panels.launch.server import Plan, laboratory  # noqa: E402
from kit.panels.launch.settings import environment, write_settings  # noqa: E402
from kit.protocol.catalogue import catalogue  # noqa: E402
from kit.protocol.reading_files import by_dog, read_csv  # noqa: E402
from kit.records.store import open_store  # noqa: E402

ENTRIES, WARMING = 50, 3
ENTRANCE = "bench"  # the token of a server that lives as long as this run
# ms between the keys of a quick hand, and from one entry to the next.
KEY, PAUSE = 60, 300
BARE = """
import anywidget

class Echo(anywidget.AnyWidget):
    _esm = '''export default { render({ model, el }) {
        window.echo = () => new Promise((resolve) => {
          const start = performance.now();
          const heard = () => { model.off("msg:custom", heard);
            requestAnimationFrame(() => resolve(performance.now() - start)); };
          model.on("msg:custom", heard);
          model.send({});
        });
        el.textContent = "bare"; } };'''

echo = Echo()
echo.on_msg(lambda widget, message, buffers: widget.send({}))
echo
"""
TIMED = """
() => {
  const frame = document.querySelector(".kp-frame");
  window.times = [];
  let start = 0;
  document.querySelector(".kp-input").addEventListener("keydown", (event) => {
    if (event.key === "Enter") start = performance.now(); }, true);
  new MutationObserver(() => {
    if (start && frame.dataset.rest === "yes") {
      const began = start;
      start = 0;
      requestAnimationFrame(() => {
        window.times.push(performance.now() - began);
        if (window.heard) window.heard();
      });
    }
  }).observe(frame, { attributes: true });
  window.until = (count) => new Promise((resolve) => {
    window.heard = () => window.times.length >= count && resolve();
    window.heard();
  });
}
"""


def fill(records: Path) -> None:
    """Put the demo dog with all its readings into fresh records."""
    demo = read_csv(ROOT / "data" / "demo_readings.csv", catalogue())
    readings = dict(by_dog(demo.readings))["Alder"]
    with open_store(records) as store:
        dog, session = store.add_dog("Alder", sex="dog"), store.start_session()
        for reading in readings:
            store.store_reading(dog.id, session.id, reading)
    print(f"on the table: a dog with {len(readings)} readings")


def notebook(path: Path, records: Path) -> None:
    """Write a notebook with the panel and the bare widget, which runs when it is opened."""
    conftest.write_notebook(path, records)
    content = json.loads(path.read_text(encoding="utf-8"))
    content["cells"].append({**content["cells"][0], "id": "bare", "source": BARE})
    content["metadata"]["conformation"] = {"run": True}
    path.write_text(json.dumps(content), encoding="utf-8")


def values() -> list[str]:
    """Return further readings of the measurements, in the order the panel asks for them."""
    demo = read_csv(ROOT / "data" / "demo_readings.csv", catalogue())
    first: dict[str, float] = {}
    for reading in dict(by_dog(demo.readings))["Alder"]:
        first.setdefault(reading.measurement, reading.value)
    return [f"{value + 0.1:.1f}" for value in first.values()]


def measured(page: Page) -> list[float]:
    """Type the entries one after the other and return their times in ms."""
    page.get_by_role("button", name="press when the dog was stood anew").click()
    page.wait_for_selector(".kp-frame[data-rest='yes']")
    page.evaluate(TIMED)
    field = page.locator(".kp-input")
    for number, text in enumerate(values()[: ENTRIES + WARMING], start=1):
        page.wait_for_timeout(PAUSE)
        field.press_sequentially(text, delay=KEY)
        field.press("Enter")
        # Waited for in the page: asking again and again would keep it busy.
        page.evaluate("count => window.until(count)", number)
    return [float(time) for time in page.evaluate("() => window.times")][WARMING:]


def bare(page: Page) -> list[float]:
    """Return the times of the bare widget's round trips in ms."""
    page.wait_for_function("() => window.echo")
    times = []
    for _ in range(ENTRIES + WARMING):
        page.wait_for_timeout(PAUSE)
        times.append(float(page.evaluate("() => window.echo()")))
    return times[WARMING:]


def show(name: str, times: list[float]) -> None:
    """Print median, 95th percentile and range."""
    high = statistics.quantiles(times, n=20, method="inclusive")[-1]
    print(f"{name}: median {statistics.median(times):.0f} ms, 95th percentile {high:.0f} ms, "
          f"{min(times):.0f} to {max(times):.0f} ms ({len(times)} entries)")  # fmt: skip


def main() -> None:
    """Start JupyterLab, type, print."""
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}")
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        folder, records = room / "notebooks", room / "records.sqlite3"
        folder.mkdir()
        fill(records)
        notebook(folder / "bench.ipynb", records)
        os.environ["XDG_CONFIG_HOME"] = str(room / "settings")
        port = conftest.free_port()
        plan = laboratory(folder / "bench.ipynb", port)
        variables = environment(write_settings(), ENTRANCE)
        process = subprocess.Popen(
            [sys.executable, "-m", plan.module, *plan.options],
            env=variables, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            run(plan, f"http://127.0.0.1:{port}", process)
        finally:
            process.terminate()
            process.wait(30)


def run(plan: Plan, base: str, process: subprocess.Popen[bytes]) -> None:
    """Measure on a running server."""
    conftest.wait_for(f"{base}/api", process, Path("none.txt"))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=str(conftest.CHROMIUM), args=conftest.ARGUMENTS
        )
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(f"{base}{plan.page}?token={ENTRANCE}")
        page.wait_for_selector(".kp-body", state="visible", timeout=60_000)
        show("bare widget, round trip", bare(page))
        show("panel, Enter to refreshed pictures", measured(page))
        browser.close()


if __name__ == "__main__":
    main()
