// Moves a lead, or changes the mains or the slip, without leaving the page: the
// same links and forms as without a script, their answer put in place. The
// drawing, the keyboard's place and what a screen reader is told stay together.

const main = document.querySelector('main');
const said = document.createElement('p'); // a status that is there before it is filled
said.setAttribute('role', 'status');
said.className = 'unseen';
main.after(said);

let under = null; // the request on its way
let shown = location.search; // what the page answers

const ours = url => url.origin === location.origin && url.pathname === location.pathname;
const drawing = () => document.getElementById('drawing');

// name is how a link is found again in the page that comes: by its words, as its
// address changes.
const name = el => el && (el.getAttribute('aria-label') || el.textContent.trim());

// inSight brings a slip in a rectifier, at the drawing's far end, into a narrow window.
function inSight() {
  const box = drawing(), part = box?.dataset.far && box.querySelector('g.output');
  if (part) box.scrollLeft += part.getBoundingClientRect().left - box.getBoundingClientRect().left - 8;
}

async function show(url, from, push) {
  under?.abort();
  const mine = under = new AbortController();
  let text;
  try {
    const answer = await fetch(url, { signal: mine.signal });
    if (!answer.headers.get('Content-Type')?.startsWith('text/html')) throw new TypeError('no page');
    text = await answer.text();
  } catch (error) {
    if (mine.signal.aborted) return;
    location.assign(url); // the browser says what is wrong
    return;
  }
  if (mine !== under) return;
  under = null;
  const page = new DOMParser().parseFromString(text, 'text/html');
  const old = drawing(), top = old?.getBoundingClientRect().top, left = old?.scrollLeft;
  const words = name(from), id = from?.id;
  main.replaceChildren(...page.querySelector('main').childNodes);
  document.title = page.title;
  if (push) history.pushState(null, '', url);
  shown = location.search;
  const now = drawing();
  if (now && top !== undefined) {
    now.scrollLeft = left;
    if (top >= 0 && top < innerHeight) scrollBy(0, now.getBoundingClientRect().top - top);
  }
  const again = id && document.getElementById(id) || words && [...main.querySelectorAll('a[href], button')].find(el => name(el) === words);
  inSight();
  const to = again || main.querySelector('.whatif a, .choices [aria-current]') || now;
  to?.focus({ preventScroll: true });
  said.textContent = [...main.querySelectorAll('.held, .whatif p:first-child, .output, .standing')].map(el => el.textContent.trim().replace(/\s+/g, ' ')).join(' ');
}

main.addEventListener('click', event => {
  const link = event.target.closest('a[href]');
  if (!link || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const url = new URL(link.getAttribute('href'), location.href);
  if (!ours(url) || !url.search) return;
  event.preventDefault();
  show(url, link, true);
});

main.addEventListener('submit', event => {
  const form = event.target;
  const url = new URL(form.getAttribute('action'), location.href);
  if (form.method !== 'get' || !ours(url)) return;
  event.preventDefault();
  url.search = new URLSearchParams(new FormData(form, event.submitter));
  show(url, event.submitter, true);
});

addEventListener('popstate', () => {
  if (location.search !== shown) show(new URL(location.href), null, false);
});

inSight();
