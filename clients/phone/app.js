// Begins the page: language, places, what waits, the session, the page's own keeper.

import { h, refill } from './lib/dom.js';
import { settle } from './lib/mine.js';
import { button, troubleBox } from './lib/parts.js';
import { at, begin } from './lib/route.js';
import { t, tn, useLanguage } from './lib/words.js';
import { onMember, session, whoIs } from './lib/api.js';
import { lastTrouble, onChange, waiting, watch } from './lib/queue.js';
import { pref } from './lib/keep.js';

at('/', () => import('./views/home.js'));
at('/sign-in', () => import('./views/sign_in.js'));
at('join=:code', () => import('./views/sign_in.js')); // the link a steward sends
at('/sets/new', () => import('./views/set_edit.js'));
at('/sets/:id/edit', () => import('./views/set_edit.js'));
at('/sets/:id', () => import('./views/set_one.js'));
at('/sets', () => import('./views/sets.js'));
at('/ask', () => import('./views/ask.js'));
at('/ask/:id', () => import('./views/ask.js'));
at('/ask/:id/reading', () => import('./views/reading.js'));
at('/answer/:id', () => import('./views/answer.js'));
at('/report', () => import('./views/report.js'));
at('/report/:id', () => import('./views/report.js'));
at('/follow', () => import('./views/follow.js'));
at('/follow/:id', () => import('./views/follow_one.js'));
at('/look', () => import('./views/look.js'));
at('/look/failing', () => import('./views/failing.js'));
at('/look/holding', () => import('./views/holding.js'));
at('/look/:id', () => import('./views/shown.js'));
at('/waiting', () => import('./views/waiting.js'));
at('/sheet/:id', () => import('./views/sheet.js'));
at('/steward', () => import('./views/steward.js'));
at('/phone', () => import('./views/phone.js'));

const view = document.getElementById('view');
const state = document.getElementById('state');
const places = document.getElementById('places');

let slow = false;
let newer = null;

async function paint(element, { first, path }) {
  refill(view, element);
  const title = view.querySelector('h1');
  document.title = title ? `${title.textContent} · mendpool` : 'mendpool';
  for (const link of places.querySelectorAll('a')) {
    const place = link.getAttribute('href').slice(1);
    const here = place === '/' ? path === '/' : path.startsWith(place);
    if (here) link.setAttribute('aria-current', 'page');
    else link.removeAttribute('aria-current');
  }
  if (!first) {
    // Read once, on the first view.
    if (sessionStorage.getItem('handed')) { sessionStorage.removeItem('handed'); tellState(); }
    scrollTo(0, 0);
    title?.setAttribute('tabindex', '-1');
    title?.focus({ preventScroll: true });
  }
}

// What has the focus may not lie under the bar at the bottom (WCAG 2.4.11).
function uncover({ target }) {
  const bar = places.getBoundingClientRect();
  const own = target.getBoundingClientRect();
  const over = own.bottom - bar.top;
  if (!places.contains(target) && own.top < bar.bottom && over > 0 && over < innerHeight) scrollBy({ top: over + 8, behavior: 'instant' });
}

async function tellState() {
  const all = await waiting().catch(() => []);
  const parts = [];
  if (slow) parts.push(t('state.asking'));
  if (sessionStorage.getItem('handed')) parts.push(t('state.handed'));
  if (!navigator.onLine) parts.push(t('state.offline'));
  if (all.length) parts.push(tn('state.waits', all.length));
  const trouble = lastTrouble();
  if (all.length && trouble && navigator.onLine) parts.push(t(`state.${trouble}`));
  state.hidden = !parts.length && !newer;
  refill(state, parts.join(' '), all.length > 0 && [' ', h('a', { href: '#/waiting' }, t('state.see'))],
    newer && [` ${t('state.newer')} `, h('a', { href: '', onclick: (event) => { event.preventDefault(); newer(); } }, t('state.reload'))]);
}

/** A view that could not be made: said, with a way on. */
function broken(error) {
  return h('div', null, h('h1', null, t('trouble.view')), troubleBox(error), button(t('state.reload'), () => location.reload(), 'main'));
}

function busy(on) {
  if (on) view.setAttribute('aria-busy', 'true');
  else view.removeAttribute('aria-busy');
  if (slow !== on) { slow = on; tellState(); }
}

// What the member before wrote was taken off this phone; what was read is in the page's memory too.
async function onHanded(member) {
  if (!(await settle(member))) return;
  sessionStorage.setItem('handed', '1');
  location.replace('/');
}

function drawPlaces() {
  const list = [['/', 'place.home'], ['/ask', 'place.ask'], ['/sets', 'place.sets'], ['/follow', 'place.follow'], ['/look', 'place.look']];
  if (whoIs()?.role === 'steward') list.push(['/steward', 'place.steward']);
  refill(places, h('ul', null, list.map(([place, key]) => h('li', null, h('a', { href: `#${place}` }, t(key))))));
  places.hidden = false;
}

async function keepPage() {
  if (!('serviceWorker' in navigator)) return;
  const { serviceWorker } = navigator;
  const before = serviceWorker.controller;
  let wanted = false;
  serviceWorker.addEventListener('controllerchange', () => {
    if (wanted) location.reload();
    else if (before) tellNewer(() => location.reload());
  });
  const keeper = await serviceWorker.register('/sw.js');
  // A newer page waits until it is asked for: its modules do not go with the ones loaded already.
  const look = () => before && keeper.waiting && tellNewer(() => {
    wanted = true;
    if (keeper.waiting) keeper.waiting.postMessage('take over');
    else location.reload();
  });
  keeper.addEventListener('updatefound', () => keeper.installing?.addEventListener('statechange', look));
  look();
}

function tellNewer(load) {
  newer = load;
  tellState();
}

async function start() {
  await useLanguage();
  document.documentElement.dataset.light = await pref('light', '');
  onMember((member) => { onHanded(member); drawPlaces(); tellState(); });
  onChange(tellState);
  addEventListener('online', tellState);
  addEventListener('offline', tellState);
  // Somebody signed out in another tab: what this one has in mind goes too. The tab that does it
  // hears of it as well where the service has the browser clear all, and has yet to finish.
  addEventListener('storage', (event) => {
    if (event.key === null && !document.documentElement.dataset.leaving) location.replace('/');
  });
  // A frame later, for the browser scrolls to what has the focus itself.
  document.addEventListener('focusin', (event) => requestAnimationFrame(() => uncover(event)));
  drawPlaces();
  // Each by itself: a view that fails, or a phone that keeps nothing, stops none of the others.
  const renewed = async () => whoIs() && (await import('./lib/vocabulary.js')).renewDaily();
  // A phone keeps a page open for weeks: what was put right has to arrive there as well.
  const looked = () => { if (!document.hidden) renewed().catch(() => {}); };
  document.addEventListener('visibilitychange', looked);
  addEventListener('online', looked);
  for (const step of [() => begin(paint, { broken, busy }), session, watch, keepPage, renewed]) {
    try { await step(); } catch { /* what failed is told where it is asked for */ }
  }
}

start();
