// Loads the plot library when JupyterLab starts, and runs the workbook's own cells when one of its notebooks opens and
// when its kernel comes back. Says so where a panel's numbers are not live.
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

  // A figure is drawn as wide as the window: on paper it is shown smaller, else its right end would be lost.
  const PAPER_PX = 660;
  const fitPaper = () => {
    for (const figure of document.querySelectorAll('.quiet-figure')) {
      figure.style.zoom = Math.min(1, PAPER_PX / figure.getBoundingClientRect().width);
    }
  };
  const fitScreen = () => {
    for (const figure of document.querySelectorAll('.quiet-figure')) figure.style.zoom = '';
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

  const STYLE = `
    .expo-note { position: absolute; top: 34px; left: 40px; right: 40px; z-index: 100; padding: 8px 12px; font-size: 13px;
      border: 2px solid #d55e00; background: var(--jp-layout-color1); color: var(--jp-ui-font-color1); }
    .expo-note button { margin-left: 10px; }
    .expo-asleep .expo-panel { opacity: .45; pointer-events: none; }
    .expo-reading .jp-NotebookPanel-toolbar, .expo-reading .jp-InputPrompt, .expo-reading .jp-OutputPrompt,
    .expo-reading .jp-OutputArea-promptOverlay,
    .expo-reading .jp-Collapser, .expo-reading .jp-Notebook-footer, .expo-reading .jp-cell-toolbar,
    .expo-reading .jp-Cell-inputWrapper:has(.jp-InputPlaceholder) { display: none !important; }
    .expo-reading .jp-Notebook-cell, .expo-reading .jp-Notebook-cell * { box-shadow: none !important; }
    .expo-reading .jp-Notebook-cell, .expo-reading .jp-MarkdownOutput { border-color: transparent !important; }
    @media screen { .expo-reading .jp-NotebookPanel-notebook { top: 0 !important; height: 100% !important; } }
    .expo-show-all { position: fixed; top: 4px; right: 12px; z-index: 10; font-size: 11px; padding: 2px 8px;
      border: 1px solid var(--jp-border-color1); background: var(--jp-layout-color1); color: var(--jp-ui-font-color1); }`;
  const SHOW = 'expocalc:show-all';
  const LESSON = /(?:^|\/)[0-5]-[^/]+\.ipynb$/;
  const REST_MS = 5000;  // what was set last is kept by then
  const FAREWELL_MS = 2000;  // its figures send a last word, which the kernel must still hear
  const NO_CANVAS = 'This browser draws no figures: its canvas is switched off. Allow it for this page, or use another '
    + 'browser. Numbers and tables are right all the same.';
  const NO_PLOTS = 'The library that draws did not load, so figures may be missing. Reload the page; if that does not '
    + 'help, start the workbook again.';

  // One sentence over the top of a notebook, with a button where something can be done; "" takes it away.
  const tell = (panel, sentence, word, act) => {
    panel.node.querySelector('.expo-note')?.remove();
    if (!sentence) return;
    const note = document.createElement('div');
    note.className = 'expo-note';
    note.setAttribute('role', 'alert');
    note.textContent = sentence;
    if (word) {
      const button = document.createElement('button');
      button.textContent = word;
      button.onclick = act;
      note.append(button);
    }
    panel.node.append(note);
  };

  // What is left of figures whose cell ran again: some megabytes each.
  const dropDeadFigures = () => {
    const live = window.Bokeh?.documents ?? [];
    for (let at = live.length - 1; at >= 0; at--) {
      const views = live[at].roots().map(root => window.Bokeh.index?.get_by_id?.(root.id)).filter(Boolean);
      // One that is scrolled out of sight is off the page too, but in its cell.
      if (views.length && views.every(({ el }) => !el?.isConnected && !el?.closest('.jp-Cell'))) {
        for (const view of views) view.remove();
        live[at].clear();
        live.splice(at, 1);
      }
    }
  };

  let clearing;
  const clearLater = changes => {
    if (!changes.some(({ removedNodes }) => removedNodes.length)) return;
    clearTimeout(clearing);
    clearing = setTimeout(dropDeadFigures, 500);
  };

  // A plan that is dropped on a panel goes into the folder of plans, under a free name, and is loaded.
  const takePlan = async (app, box, file) => {
    if (!/^[\w .()-]{1,100}\.toml$/.test(file.name) || file.name.startsWith('.') || file.size > 1e6) return;
    const { contents } = app.serviceManager;
    const listed = await contents.get('plans').then(folder => folder.content.map(one => one.name), () => []);
    const stem = file.name.slice(0, -5);
    let name = file.name;
    for (let number = 2; listed.includes(name); number++) name = `${stem}-${number}.toml`;
    await contents.save(`plans/${name}`, { type: 'file', format: 'text', content: await file.text() });
    const input = box.querySelector('.expo-plan-name input');
    input.value = `plans/${name}`;
    input.dispatchEvent(new Event('change', { bubbles: true }));
    box.querySelector('button.expo-plan-load').click();
  };

  const activate = app => {
    const { baseUrl } = JSON.parse(document.getElementById('jupyter-config-data').textContent);
    const style = document.createElement('style');
    style.textContent = STYLE;
    document.head.append(style);
    let lacks = document.createElement('canvas').getContext('2d') ? '' : NO_CANVAS;
    const plots = loadPlots(`${baseUrl}static/js/`).catch(() => { lacks ||= NO_PLOTS; });
    // The launcher lists the code that we ship, the notebooks that it laid, and the kernel that is ours. A notebook may
    // claim what it likes: a stranger's cell, file or kernel is not in the list.
    const ours = fetch(`${baseUrl}static/known.json`, { cache: 'no-store' }).then(answer => answer.json())
      .then(({ kernel, notebooks, code }) => ({ kernel, notebooks: new Set(notebooks), code: new Set(code) }))
      .catch(() => ({ kernel: '', notebooks: new Set(), code: new Set() }));
    const seen = new WeakSet();

    const isOurs = async panel => {
      const { kernel, notebooks } = await ours;
      return kernel && panel.sessionContext.session?.kernel?.name === kernel && notebooks.has(panel.context.path)
        && panel.content.model?.getMetadata('workbook')?.run_on_open;
    };

    // A reader needs no cells, prompts and tool bars; one command, with a button and a key, brings them back.
    // The button stands in the title's row, where nothing of a page lies under it.
    const readers = new WeakSet();
    const button = document.createElement('button');
    button.className = 'expo-show-all';
    button.title = 'Alt Shift C';
    button.hidden = true;
    button.onclick = () => app.commands.execute(SHOW);
    document.body.append(button);
    const sayShow = () => {
      const panel = app.shell.currentWidget;
      button.hidden = !readers.has(panel);
      button.textContent = panel?.node.classList.contains('expo-reading') ? 'Show code and tools' : 'Hide code and tools';
    };
    const show = (panel, reading) => {
      panel.node.classList.toggle('expo-reading', reading);
      sayShow();
      app.commands.notifyCommandChanged?.(SHOW);
      panel.update?.();
      window.dispatchEvent(new Event('resize'));
    };
    const read = async panel => {
      if (!await isOurs(panel)) return;
      readers.add(panel);
      show(panel, true);
    };
    app.commands.addCommand(SHOW, {
      label: 'Show or hide code and tools of a page of the workbook',
      execute: () => {
        const panel = app.shell.currentWidget;
        if (readers.has(panel)) show(panel, !panel.node.classList.contains('expo-reading'));
      },
    });
    app.commands.addKeyBinding({ command: SHOW, keys: ['Alt Shift C'], selector: 'body' });

    const runShipped = async panel => {
      if (!await isOurs(panel)) return;
      const { code } = await ours;
      for (const cell of panel.content.widgets) {
        if (cell.model.type !== 'code' || !code.has(cell.model.sharedModel.getSource())) continue;
        // Not by the command that runs a cell: it would take the focus from a control that is already in use.
        await cell.constructor.execute(cell, panel.sessionContext);
      }
    };

    const fallAsleep = async panel => {
      if (!panel.node.querySelector('.expo-panel')) return;
      panel.node.classList.add('expo-asleep');
      const wakes = await isOurs(panel) || (await ours).notebooks.has(panel.context.path);
      tell(panel, 'Asleep: Python has stopped, and the numbers below are from before. '
        + (wakes ? '' : 'Run the cells again to wake them.'), wakes && 'Wake up', () => panel.sessionContext.restartKernel());
    };

    const wake = async panel => {
      await panel.sessionContext.ready;
      await runShipped(panel).catch(() => {});
      if (await isOurs(panel)) {
        panel.node.classList.remove('expo-asleep');
        tell(panel, lacks);
      }
    };

    // A kernel that went and came back knows nothing of the panels on the page.
    const watch = panel => {
      let gone = false;
      const { sessionContext } = panel;
      const lose = () => { gone = true; fallAsleep(panel); };
      sessionContext.statusChanged.connect((_, status) => {
        if (['restarting', 'autorestarting', 'terminating', 'dead'].includes(status)) lose();
        if (gone && status === 'idle') { gone = false; wake(panel); }
      });
      sessionContext.kernelChanged.connect((_, { newValue }) => { if (!newValue) lose(); });
      let cut;
      sessionContext.connectionStatusChanged.connect((_, status) => {
        clearTimeout(cut);
        if (gone) return;
        if (status === 'connected') {
          if (panel.node.classList.contains('expo-asleep')) tell(panel, lacks);
          panel.node.classList.remove('expo-asleep');
          return;
        }
        cut = setTimeout(() => {
          panel.node.classList.add('expo-asleep');
          tell(panel, 'Asleep: the workbook does not answer, and the numbers below are from before. Was its window '
            + 'closed? Start it again.');
        }, 3000);
      });
    };

    // The same page in two tabs has one kernel: a panel that is run in one tab is closed in the other.
    const shareKernel = panel => {
      const { sessionContext, content } = panel;
      sessionContext.iopubMessage.connect((_, { header, parent_header: parent, content: { code } }) => {
        if (header.msg_type !== 'execute_input' || parent.session === sessionContext.session?.kernel?.clientId) return;
        const taken = content.widgets.some(cell => cell.model.type === 'code' && cell.model.sharedModel.getSource() === code
          && (cell.node.querySelector('.expo-panel') || panel.node.classList.contains('expo-asleep')));
        if (!taken) return;
        panel.node.classList.add('expo-asleep');
        tell(panel, 'Asleep: this page is open in another tab or window too, and its panels are live there. What you set '
          + 'is kept.', 'Wake up here', () => wake(panel));
      });
    };

    const open = async panel => {
      if (!panel?.sessionContext || !panel.content?.model?.cells || seen.has(panel)) return;
      seen.add(panel);
      await Promise.all([panel.context.ready, panel.sessionContext.ready, plots]);
      tell(panel, lacks);
      watch(panel);
      shareKernel(panel);
      await read(panel);
      await runShipped(panel).catch(() => {}); // the kernel went meanwhile, and that is told
    };

    // A lesson that was left for another page lets go of its kernel: five of them would fill a small laptop.
    const letGo = async panel => {
      const now = app.shell.currentWidget;
      const left = app.shell.mode === 'single-document' && now?.context && now !== panel && !panel.isDisposed;
      if (!left || !panel.node.classList.contains('expo-reading')) return;
      if (panel.context.model.dirty) await panel.context.save();
      const { session } = panel.sessionContext;
      for (const cell of panel.content.widgets) {
        if (cell.model.getMetadata('tags')?.includes('live')) cell.outputArea.model.clear();
      }
      await new Promise(done => setTimeout(done, FAREWELL_MS));
      if (app.shell.currentWidget === panel) return wake(panel);
      panel.dispose();
      if (session) await app.serviceManager.sessions.shutdown(session.id);
    };

    app.shell.currentChanged?.connect((_, { oldValue, newValue }) => {
      sayShow();
      open(newValue);
      if (LESSON.test(oldValue?.context?.path)) setTimeout(() => letGo(oldValue).catch(() => {}), REST_MS);
    });
    // JupyterLab goes back in the address alone; the page that stands there is loaded.
    window.addEventListener('popstate', () => {
      const path = app.shell.mode === 'single-document' && app.shell.currentWidget?.context?.path;
      if (path && !decodeURIComponent(location.pathname).endsWith(`/tree/${path}`)) location.reload();
    });
    window.addEventListener('beforeprint', fitPaper);
    window.addEventListener('afterprint', fitScreen);
    open(app.shell.currentWidget);
    window.addEventListener('keydown', keepKeys, true);
    new MutationObserver(changes => { nameControls(); clearLater(changes); })
      .observe(document.body, { subtree: true, childList: true });
    const planOf = event => event.dataTransfer?.types.includes('Files') && event.target.closest?.('.expo-panel')
      ?.querySelector('.expo-plan');
    document.addEventListener('dragover', event => { if (planOf(event)) event.preventDefault(); }, true);
    document.addEventListener('drop', event => {
      const box = planOf(event);
      if (!box) return;
      event.preventDefault();
      event.stopPropagation();
      for (const file of event.dataTransfer.files) takePlan(app, box, file).catch(error => console.warn(String(error)));
    }, true);
  };

  (window._JUPYTERLAB ??= {})['expocalc-lab'] = {
    init() {},
    get: async () => () => ({ __esModule: true, default: { id: 'expocalc-lab:plugin', autoStart: true, activate } }),
  };
})();
