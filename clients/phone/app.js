// Begins the page: language, places, what waits, the session, the page's own keeper.

import { h, refill } from './lib/dom.js';
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
  if (!navigator.onLine) parts.push(t('state.offline'));
  if (all.length) parts.push(tn('state.waits', all.length));
  const trouble = lastTrouble();
  if (all.length && trouble && navigator.onLine) parts.push(t(`state.${trouble}`));
  state.hidden = !parts.length;
  refill(state, parts.join(' '), all.length > 0 && [' ', h('a', { href: '#/waiting' }, t('state.see'))]);
}

function drawPlaces() {
  const list = [['/', 'place.home'], ['/ask', 'place.ask'], ['/sets', 'place.sets'], ['/follow', 'place.follow'], ['/look', 'place.look']];
  if (whoIs()?.role === 'steward') list.push(['/steward', 'place.steward']);
  refill(places, h('ul', null, list.map(([place, key]) => h('li', null, h('a', { href: `#${place}` }, t(key))))));
  places.hidden = false;
}

async function keepPage() {
  if (!('serviceWorker' in navigator)) return;
  const before = navigator.serviceWorker.controller;
  await navigator.serviceWorker.register('/sw.js').catch(() => {});
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (before) {
      state.hidden = false;
      refill(state, t('state.newer'), ' ', h('a', { href: '', onclick: () => location.reload() }, t('state.reload')));
    }
  });
}

async function start() {
  await useLanguage();
  document.documentElement.dataset.light = await pref('light', '');
  onMember(() => { drawPlaces(); tellState(); });
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
  await begin(paint);
  await session().catch(() => {});
  await watch();
  await keepPage();
}

start();
