// Names for the controls, and what to say when the leader's laptop is out of reach.
(() => {
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
  new MutationObserver(nameControls).observe(document.body, { subtree: true, childList: true });
  nameControls();

  // A figure is drawn as wide as the window: on paper it is shown smaller, else its right end would be lost.
  const PAPER_PX = 660;
  addEventListener('beforeprint', () => {
    for (const figure of document.querySelectorAll('.quiet-figure')) {
      figure.style.zoom = Math.min(1, PAPER_PX / figure.getBoundingClientRect().width);
    }
  });
  addEventListener('afterprint', () => {
    for (const figure of document.querySelectorAll('.quiet-figure')) figure.style.zoom = '';
  });

  const kernel = JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId;
  const page = location.pathname.slice(1);
  const { drawn } = document.getElementById('rendered_cells').dataset;
  const news = document.getElementById('hall-news');
  let away = 0;

  // What is typed while the line is down reaches no kernel: after the reload it is put back, as if typed then.
  const LATE = 'hall-late';
  let late = {};
  const boxes = () => [...document.querySelectorAll('.expo-panel :is(input[type=text], select)')];
  const keyOf = box => `${boxes().filter(one => one.title === box.title).indexOf(box)} ${box.title}`;
  addEventListener('change', ({ target }) => {
    if (boxes().includes(target)) late[keyOf(target)] = target.value;
  }, true);
  const reload = () => {
    sessionStorage.setItem(LATE, JSON.stringify({ page, late }));
    location.reload();
  };
  const kept = JSON.parse(sessionStorage.getItem(LATE) ?? '{}');
  sessionStorage.removeItem(LATE);
  let stood = 0;
  const putBack = () => {
    const now = boxes().length;
    if (!now || now > stood) {  // still being drawn, so that the second box of a name may be the first that is there
      stood = now;
      return setTimeout(putBack, 500);
    }
    for (const box of boxes()) {
      const text = kept.late[keyOf(box)];
      if (text === undefined || text === box.value) continue;
      box.value = text;
      box.dispatchEvent(new Event('change', { bubbles: true }));
    }
  };
  if (kept.page === page && Object.keys(kept.late).length) putBack();

  const say = (words, action) => {
    news.hidden = !words;
    news.textContent = words;
    if (words && action) {
      const button = document.createElement('button');
      button.textContent = action;
      button.onclick = () => location.reload();
      news.append(button);
    }
  };
  const ask = async () => {
    try {
      const asked = `/alive?kernel=${kernel}&drawn=${drawn}&page=${encodeURIComponent(page)}`;
      const signal = AbortSignal.timeout?.(4000);  // telephones of before 2022 have none, and wait as long as it takes
      const answer = await (await fetch(asked, { signal })).json();
      if (away > 4) return reload();  // the line was down longer than the page holds out
      away = 0;
      late = {};  // it was heard
      if (!answer.open) say('The leader has closed this page. What you typed is kept.', 'Look again');
      else if (!answer.seated) say('This page went to sleep, or you opened another one. What you typed is kept.', 'Wake it');
      else say('');
    } catch {
      away += 1;
      if (away > 1) say("The leader's laptop can't be reached. Stay on its Wi-Fi; this page tries again by itself.");
    }
  };
  setInterval(ask, 5000);
  document.addEventListener('visibilitychange', () => document.hidden || ask());
})();
