/* Runs a notebook when it is opened, if its metadata asks for it: {"conformation": {"run": true}}.
   JupyterLab has no such setting. Written by hand against the module federation container that
   JupyterLab loads (`init`, `get`) and against the application alone: no package is bundled. */
(() => {
  "use strict";
  const RUN_ALL = "notebook:run-all-cells";
  const PATIENCE = 60000; // ms to wait for the notebook and its kernel
  const seen = new WeakSet();

  const pause = (duration) => new Promise((resolve) => setTimeout(resolve, duration));

  const wantsRun = (panel) => {
    const model = panel?.content?.model;
    return Boolean(model?.getMetadata && model.getMetadata("conformation")?.run);
  };

  /* Back to the top: running selects the last cell. */
  const showTop = (panel) => {
    panel.content.activeCellIndex = 0;
    for (const node of panel.node.querySelectorAll(".jp-WindowedPanel-outer")) node.scrollTop = 0;
  };

  const run = async (app, panel) => {
    await panel.context.ready;
    await panel.sessionContext.ready;
    if (!wantsRun(panel) || seen.has(panel)) return;
    seen.add(panel);
    const done = app.commands.execute(RUN_ALL);
    showTop(panel);
    await done;
    showTop(panel);
  };

  const activate = async (app) => {
    await app.restored;
    const end = Date.now() + PATIENCE;
    while (Date.now() < end) {
      const panel = app.shell.currentWidget;
      if (panel?.sessionContext && panel?.context) return run(app, panel);
      await pause(100);
    }
  };

  const plugin = {
    id: "conformation-kit:run",
    autoStart: true,
    activate: (app) => {
      activate(app).catch((fault) => console.error("conformation-kit:run", fault));
    },
  };

  const modules = { "./extension": () => ({ __esModule: true, default: plugin }) };
  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["conformation-kit"] = {
    init: async () => {},
    get: async (name) => {
      if (!(name in modules)) throw new Error(`conformation-kit has no module ${name}`);
      return modules[name];
    },
  };
})();
