// Asks the hall how things stand and draws it; every answer is text, never markup, but for tables that we made.
(() => {
  const show = document.querySelector('main').dataset.show;
  const at = name => document.getElementById(name);
  const question = at('question');
  // An answer that was asked for before the hall took in what the leader pressed is old, and would undo it.
  let asked = 0, stale = 0, sending = 0;
  const send = (path, words) => {
    sending += 1;
    return fetch(path, { method: 'POST', body: new URLSearchParams(words) })
      .finally(() => { sending -= 1; stale = asked; }).then(look);
  };
  const fine = matchMedia('(min-width: 1900px) and (min-height: 1070px)'), FINE_PX = 640;  // as in leader.css
  let drawn = '', drawing = Promise.resolve();

  const draw = picture => {
    const { doc } = picture;
    const now = JSON.stringify(doc).replace(/"p\d+"/g, '');  // ids differ from answer to answer
    if (now === drawn) return;
    drawn = now;
    drawing = drawing.then(() => {  // one after the other: a picture that is still on its way would stand beside this one
      for (const document_ of Bokeh.documents.slice()) document_.clear();
      at('picture').replaceChildren();
      return Bokeh.embed.embed_item(picture, 'picture');
    }).then(() => {
      if (fine.matches) Bokeh.documents.at(-1).roots()[0].height = FINE_PX;
    });
  };

  const say = told => {
    at('count').textContent = `${told.guests} guest${told.guests === 1 ? '' : 's'}, ${told.here} at a page`;
    if (at('words')) at('words').textContent = told.words;
    if (at('table')) at('table').innerHTML = told.table;
    if (told.picture) draw(told.picture);
    if (at('reveal')) {
      at('reveal').textContent = told.shown ? 'Hide' : 'Reveal';
      at('reveal').onclick = () => send('/leader/reveal', { key: question.value, shown: told.shown ? 'no' : 'yes' });
    }
    for (const [name, lesson] of Object.entries(told.lessons)) {
      const box = document.querySelector(`[data-page="${name}"]`);
      if (!box) continue;
      box.checked = lesson.open;
      box.disabled = false;  // from now on it shows how things stand
      document.querySelector(`[data-count="${name}"]`).textContent = lesson.guests || '';
    }
    if (at('rows')) {
      at('rows').replaceChildren(...told.rows.map(([name, value]) => {
        const row = document.createElement('tr');
        row.insertCell().textContent = name;
        row.insertCell().textContent = value;
        return row;
      }));
    }
  };

  async function look() {
    const mine = ++asked;
    try {
      const words = new URLSearchParams({ show, key: question?.value ?? '' });
      const answer = await fetch(`/leader/state?${words}`);
      if (answer.status === 403) return location.assign('/leader');
      const told = await answer.json();
      if (!sending && mine > stale) {
        stale = mine;  // of two answers that cross on a slow line the later question's stands
        say(told);
      }
      document.querySelector('header').classList.remove('lost');
    } catch (error) {
      document.querySelector('header').classList.add('lost');
      at('count').textContent = 'No answer from the hall; trying again';
    }
  }

  if (question) {
    const name = () => { at('asked').textContent = question.selectedOptions[0].textContent; };
    const before = sessionStorage.getItem('question');
    if (before) question.value = before;
    question.onchange = () => { sessionStorage.setItem('question', question.value); name(); look(); };
    name();
  }
  for (const box of document.querySelectorAll('[data-page]')) {
    box.onchange = () => send('/leader/turn', { page: box.dataset.page, open: box.checked ? 'yes' : 'no' });
  }
  look();
  setInterval(look, 2000);
})();
