// Loads the plot library when JupyterLab starts, and runs the workbook's own cells when one of its notebooks opens.
// Written in the form of a prebuilt extension, so that nothing has to be built.
(() => {
  const loadPlots = async folder => {
    for (const name of ['bokeh', 'bokeh-gl', 'bokeh-widgets', 'bokeh-tables']) {
      await new Promise((done, failed) => {
        const script = document.createElement('script');
        Object.assign(script, { src: `${folder}${name}.min.js`, onload: done, onerror: failed });
        document.head.append(script);
      });
    }
  };

  // A letter typed on a control must not reach the notebook's shortcuts: X would cut the panel's cell.
  const keepKeys = ({ target, ctrlKey, metaKey, altKey }) => {
    if (target.closest?.('.expo-panel')) {
      target.toggleAttribute('data-lm-suppress-shortcuts', !(ctrlKey || metaKey || altKey));
    }
  };

  // For screen readers: ipywidgets leaves its slider handles without a name, and a tooltip alone is no label.
  const nameControls = () => {
    for (const handle of document.querySelectorAll('.expo-panel .noUi-handle:not([aria-label])')) {
      const slider = handle.closest('.jupyter-widgets');
      const name = slider?.querySelector('.widget-label')?.textContent || slider?.title;
      if (name) handle.setAttribute('aria-label', name + (handle.matches('.noUi-handle-upper') ? ', upper' : ''));
    }
    for (const control of document.querySelectorAll('.expo-panel :is(input, select)[title]:not([aria-label])')) {
      control.setAttribute('aria-label', control.title);
    }
  };

  const activate = app => {
    const { baseUrl } = JSON.parse(document.getElementById('jupyter-config-data').textContent);
    const plots = loadPlots(`${baseUrl}static/js/`).catch(() => console.error('expocalc-lab: no plot library'));
    // The launcher lists the code that we ship. A notebook may claim what it likes: a stranger's cell is not in the list.
    const shipped = fetch(`${baseUrl}static/known.json`, { cache: 'no-store' }).then(answer => answer.json())
      .then(list => new Set(list), () => new Set());
    const seen = new WeakSet();

    const runShipped = async panel => {
      if (!panel?.sessionContext || !panel.content?.model?.cells || seen.has(panel)) return;
      seen.add(panel);
      await Promise.all([panel.context.ready, panel.sessionContext.ready, plots]);
      const notebook = panel.content;
      if (!notebook.model.getMetadata('workbook')?.run_on_open) return;
      const known = await shipped;
      for (const cell of notebook.widgets) {
        if (cell.model.type !== 'code' || !known.has(cell.model.sharedModel.getSource())) continue;
        // Not by the command that runs a cell: it would take the focus from a control that is already in use.
        await cell.constructor.execute(cell, panel.sessionContext);
      }
    };

    app.shell.currentChanged?.connect((_, { newValue }) => runShipped(newValue));
    runShipped(app.shell.currentWidget);
    window.addEventListener('keydown', keepKeys, true);
    new MutationObserver(nameControls).observe(document.body, { subtree: true, childList: true });
  };

  (window._JUPYTERLAB ??= {})['expocalc-lab'] = {
    init() {},
    get: async () => () => ({ __esModule: true, default: { id: 'expocalc-lab:plugin', autoStart: true, activate } }),
  };
})();
