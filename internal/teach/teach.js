// Looks wirings up. What they read and do stands in the tables; nothing is
// worked out here but who holds which lead.
'use strict';
(() => {
  const $ = id => document.getElementById(id);
  const lesson = JSON.parse($('lesson').textContent);
  const parts = $('parts').textContent.split('\n\n');
  const tables = [...document.querySelectorAll('table[data-source]')].map(t => ({
    heads: [...t.tHead.rows[0].cells].slice(1),
    near: Number(t.dataset.near),
    rows: new Map([...t.tBodies[0].rows].map(r => [r.dataset.k, r])),
  }));
  const pins = [...document.querySelectorAll('button.pin')];
  const away = '-';
  let key = lesson.right, held = -1, read = false, closed = false, source = 0, asked = 0, good = 0;

  const row = k => tables[source].rows.get(k);
  const lead = i => pins.find(b => Number(b.dataset.i) === i);
  const put = (k, i, c) => k.slice(0, i) + c + k.slice(i + 1);
  const exchange = (k, i, j) => put(put(k, i, k[j]), j, k[i]);
  // The joint whose lead is off is the one that the wiring lacks.
  const lacks = k => {
    let rest = lesson.right;
    for (const c of k) rest = rest.replace(c, '');
    return rest;
  };
  const may = (i, j) => lead(i).dataset.side === lead(j).dataset.side && tables[0].rows.has(exchange(key, i, j));
  const say = text => { $('say').textContent = ''; $('say').textContent = text; };

  // On a narrow screen what matters comes into sight, not the plug.
  const inSight = what => {
    const box = $('picture'), g = box.querySelector('g' + what);
    if (g) box.scrollLeft += g.getBoundingClientRect().right - box.getBoundingClientRect().right + 16;
  };
  const draw = list => { $('picture').innerHTML = list.map(i => parts[i]).join(''); };
  const show = () => {
    draw((closed ? lesson.closed : lesson.open)[key]);
    for (const b of pins) {
      const i = Number(b.dataset.i), at = b.querySelector('.in');
      if (key[i] === away) at.textContent = $('w-off').textContent;
      else {
        const name = document.createElement('b');
        name.translate = false;
        name.textContent = (closed ? lesson.joined : lesson.places)[key[i]];
        at.replaceChildren($('w-joint').textContent + ' ', name);
      }
      b.setAttribute('aria-pressed', String(i === held));
      b.setAttribute('aria-disabled', String(held >= 0 && held !== i && !may(held, i)));
      const drawn = $(b.dataset.drawn);
      if (drawn) drawn.classList.toggle('taken', i === held);
    }
    $('held').hidden = held < 0;
    $('whose').textContent = held < 0 ? '' : lead(held).querySelector('b').textContent;
    $('drop').hidden = held < 0;
    $('on').hidden = held < 0 || key[held] !== away;
    $('off').hidden = held < 0 || key[held] === away || !tables[0].rows.has(put(key, held, away));
    readings();
  };

  const list = (r, heads, after) => {
    const out = [];
    heads.forEach((h, n) => {
      if (h.classList.contains('after') !== after) return;
      const d = document.createElement('div'), dt = document.createElement('dt'), dd = document.createElement('dd');
      dt.innerHTML = h.innerHTML;
      dd.innerHTML = r.cells[n + 1].innerHTML;
      d.append(dt, dd);
      out.push(d);
    });
    return out;
  };
  const readings = () => {
    const seen = read || !$('cover').checked;
    $('asked').hidden = !$('cover').checked || read;
    $('guess').hidden = seen;
    const before = seen ? list(row(key), tables[source].heads, false) : [];
    $('before').replaceChildren(...before);
    $('ghost').hidden = !seen || !('f' in row(key).dataset);
    $('close').hidden = !seen;
    $('close').textContent = $(closed ? 'w-open' : 'w-close').textContent;
    $('after').hidden = !closed;
    if (!closed) return;
    const after = list(row(key), tables[source].heads, true);
    $('verdict').replaceChildren(...after.pop().querySelector('dd').childNodes);
    $('follows').replaceChildren(...after);
  };
  const reading = () => $('before').firstElementChild.innerText.replace(/\s+/g, ' ');

  // A changed wiring is covered again, its joint open.
  const turn = k => {
    key = k;
    held = -1;
    read = closed = false;
    $('guess').reset();
    $('marks').replaceChildren();
    show();
  };
  const choose = i => {
    if (held === i) held = -1;
    else if (held < 0) held = i;
    else if (key[held] === key[i]) held = i; // both leads come from one joint: there is nothing to change over
    else if (may(held, i)) {
      turn(exchange(key, held, i));
      say($('w-moved').textContent + ($('cover').checked ? '' : ' ' + reading()));
      return;
    } else {
      say($('w-full').textContent);
      return;
    }
    show();
    if (held >= 0) say($('held').textContent.trim());
  };

  for (const b of pins) b.addEventListener('click', () => choose(Number(b.dataset.i)));
  $('picture').addEventListener('click', e => {
    const g = !$('ac').hidden && e.target.closest('g.pin'), b = g && pins.find(x => x.dataset.drawn === g.id);
    if (b) choose(Number(b.dataset.i));
  });
  document.addEventListener('keydown', e => {
    if (e.key === 'Escape' && held >= 0) { held = -1; show(); }
  });
  $('drop').addEventListener('click', () => { const b = lead(held); held = -1; show(); b.focus(); });
  const lift = place => {
    const b = lead(held);
    turn(put(key, held, place));
    b.focus();
    say($('w-moved').textContent);
  };
  $('off').addEventListener('click', () => lift(away));
  $('on').addEventListener('click', () => lift(lacks(key)));
  $('home').addEventListener('click', () => { turn(lesson.right); say($('w-moved').textContent); });
  $('deal').addEventListener('click', () => {
    const all = [...tables[0].rows.keys()].filter(k => k !== key);
    turn(all[Math.floor(Math.random() * all.length)]);
    say($('w-moved').textContent);
  });
  for (const r of document.querySelectorAll('input[name=source]')) {
    r.addEventListener('change', () => { source = Number(r.value); $('low').hidden = !source; turn(key); });
  }
  $('cover').addEventListener('change', show);
  $('guess').addEventListener('submit', e => {
    e.preventDefault();
    const text = $('volts').value.trim().replace(',', '.').replace(/\s*V$/i, ''), volts = Number(text);
    if (text && !(volts >= 0)) {
      say($('w-number').textContent);
      $('marks').replaceChildren(item('w-number', 'caution'));
      $('volts').focus();
      return;
    }
    const said = document.querySelector('input[name=right]:checked'), notes = [];
    if (said) {
      const hit = (said.value === 'yes') === (row(key).lastElementChild.firstElementChild.className === 'go');
      asked++;
      good += hit;
      notes.push(item(hit ? 'w-right' : 'w-wrong', hit ? 'go' : 'caution'));
    }
    const v = row(key).dataset.v;
    if (text && v) {
      const hit = Math.abs(volts - v) <= Math.max(0.2 * v, tables[source].near);
      asked++;
      good += hit;
      notes.push(item(hit ? 'w-near' : 'w-far', hit ? 'go' : 'caution'));
    }
    read = true;
    show();
    $('marks').replaceChildren(...notes);
    $('tally').hidden = !asked;
    $('score').textContent = good + ' / ' + asked;
    say([reading(), ...notes.map(n => n.textContent)].join('. '));
    $('close').focus();
  });
  const item = (word, mark) => {
    const li = document.createElement('li'), s = document.createElement('b');
    s.textContent = $(word).textContent;
    s.className = mark;
    li.append(s);
    return li;
  };
  $('close').addEventListener('click', () => {
    closed = !closed;
    show();
    say(closed ? $('after').innerText.replace(/\s+/g, ' ') : reading());
  });

  // The rectifier behind it: a slip is chosen, drawn and looked up.
  const behind = $('behind'), slip = $('slip');
  let hidden = null; // the slip to be found
  const rectifier = () => {
    const at = hidden ?? slip.value, of = k => [...behind.tBodies[0].rows].find(r => r.dataset.k === k), heads = [...behind.tHead.rows[0].cells].slice(1);
    draw(lesson.behind[hidden === null ? at : '']);
    $('dc-words').textContent = of(slip.value).cells[0].textContent;
    $('dc-reads').replaceChildren(...list(of(at), heads, false));
    const after = list(of(at), heads, true);
    $('dc-verdict').replaceChildren(...after.pop().querySelector('dd').childNodes);
    $('dc-follows').replaceChildren(...after);
    $('dc-after').hidden = $('hide').hidden = hidden !== null;
    $('seek').hidden = $('look').hidden = hidden === null;
    inSight('.output');
  };
  if (behind) {
    slip.addEventListener('change', () => {
      $('found').replaceChildren();
      rectifier();
      if (hidden === null) say($('dc-after').innerText.replace(/\s+/g, ' '));
    });
    $('hide').addEventListener('click', () => {
      hidden = slip.options[Math.floor(Math.random() * slip.options.length)].value;
      slip.value = '';
      $('found').replaceChildren();
      rectifier();
      say($('seek').textContent);
      slip.focus();
    });
    $('look').addEventListener('click', () => {
      const shown = $('dc-reads').textContent, was = hidden, guess = slip.value;
      hidden = null;
      rectifier();
      const hit = $('dc-reads').textContent === shown;
      if (!hit || guess !== was) {
        slip.value = was;
        rectifier();
      }
      $('found').replaceChildren(...item(hit ? 'w-found' : 'w-missed', hit ? 'go' : 'caution').childNodes);
      say($('found').textContent + ' ' + $('dc-after').innerText.replace(/\s+/g, ' '));
      $('hide').focus();
    });
    for (const r of document.querySelectorAll('input[name=stage]')) {
      r.addEventListener('change', () => {
        const dc = r.value === 'dc';
        $('ac').hidden = dc;
        $('dc').hidden = !dc;
        if ($('low')) $('low').hidden = dc || !source;
        if (dc) rectifier();
        else { show(); inSight('.meter'); }
      });
    }
  }

  document.body.classList.add('live');
  $('all').open = false;
  $('play').hidden = false;
  show();
  inSight('.meter');
})();
