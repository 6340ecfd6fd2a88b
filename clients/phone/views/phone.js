// This phone: language, light, what it keeps, signing out.

import { h, refill } from '../lib/dom.js';
import { inUse, languages, number, t, time, tn, useLanguage } from '../lib/words.js';
import { session, signOut, whoIs } from '../lib/api.js';
import { all, forgetAll, pref, setPref } from '../lib/keep.js';
import { flush, waiting } from '../lib/queue.js';
import { renew, vocabulary } from '../lib/vocabulary.js';
import { button, choice, notice, troubleBox, under, way, whileBusy } from '../lib/parts.js';

const KEPT = ['sets', 'walks', 'answers', 'mine', 'sheets', 'photos'];
const LIGHTS = ['', 'day', 'night'];

/** Make the view. */
export async function show() {
  const light = await pref('light', '');
  const member = whoIs() ?? (await session().catch(remembered));
  const words = await vocabulary();
  const counts = await Promise.all(KEPT.map(async (store) => [store, (await all(store).catch(() => [])).length]));
  const said = h('div', { 'aria-live': 'polite' });
  return h('div', null, h('h1', null, t('phone.short')), languagePart(),
    choice(t('phone.light'), LIGHTS.map((code) => [code, t(`phone.light-${code || 'as-it-is'}`)]), light, async (code) => {
      document.documentElement.dataset.light = code;
      await setPref('light', code).catch((trouble) => refill(said, troubleBox(trouble)));
    }),
    h('h2', null, t('phone.keeps')), h('p', null, t('phone.keeps-why')),
    h('ul', null, counts.filter(([, n]) => n > 0).map(([store, n]) => h('li', null, tn(`phone.count-${store}`, n)))),
    words && h('p.soft', null, t('phone.words', { version: words.version.slice(0, 8) })),
    button(t('phone.renew'), whileBusy(async () => {
      try { await renew(); refill(said, notice(t('phone.renewed'), 'good')); } catch (trouble) { refill(said, troubleBox(trouble)); }
    })),
    said, signingOut(member),
    under(t('phone.figures'), ['counts', 'range', 'chance', 'guess', 'bands', 'get-by'].map((key) => h('p', null, t(`phone.figures-${key}`)))));
}

// A tap changes it at once; with the arrow keys one passes others on the way, so a button is pressed.
function languagePart() {
  let tapped = false;
  const below = h('div', { 'aria-live': 'polite' });
  const use = async (code) => { await useLanguage(code); location.reload(); };
  const list = choice(t('phone.language'), Object.entries(languages()), inUse(), (code) => {
    if (tapped) use(code).catch((trouble) => refill(below, troubleBox(trouble)));
    else refill(below, button(t('phone.language-use'), whileBusy(() => use(code)), 'main'));
  });
  list.addEventListener('pointerdown', () => { tapped = true; });
  list.addEventListener('keydown', () => { tapped = false; });
  return h('div', null, list, below);
}

/** With no signal: whoever signed in here last. */
const remembered = async () => { const name = await pref('member'); return name && { name }; };

function signingOut(member) {
  const box = h('section');
  draw();
  return box;

  function draw() {
    refill(box, h('h2', null, t('phone.out-title')),
      member ? h('p', null, t('phone.member', { name: member.name }), member.until && ` ${t('phone.until', { when: time(member.until) })}`) : h('p', null, t('phone.nobody')),
      button(t(member ? 'phone.out' : 'phone.forget'), whileBusy(ask)));
  }

  async function ask() {
    const waits = await waiting().catch(() => []);
    refill(box, h('h2', { tabindex: '-1' }, t('phone.out-sure')), h('p', null, t('phone.out-forgets')),
      waits.length > 0 && h('div.careful', { role: 'alert' }, h('p', null, h('strong', null, tn('phone.out-waits', waits.length, { n: number(waits.length) }))), way(t('waiting.title'), '/waiting'),
        button(t('waiting.now'), whileBusy(async () => { await flush(); await ask(); }))),
      button(t(waits.length ? 'phone.out-lose' : 'phone.out-yes'), whileBusy(leave), 'danger'), button(t('cancel'), draw, 'quiet'));
    box.querySelector('h2').focus();
  }

  async function leave() {
    const language = inUse();
    document.documentElement.dataset.leaving = 'yes';
    try {
      if (member) await signOut();
    } catch (trouble) {
      if (trouble.kind !== 'signed-out') {
        delete document.documentElement.dataset.leaving;
        refill(box, h('h2', { tabindex: '-1' }, t('phone.out-title')), trouble.kind === 'offline' ? notice(t('phone.out-offline'), 'bad') : troubleBox(trouble, () => leave()),
          button(t('phone.forget'), whileBusy(() => forget(language, Boolean(member))), 'danger'), button(t('cancel'), draw, 'quiet'));
        return;
      }
    }
    await forget(language);
  }
}

/** The page itself stays on the phone; nothing that anybody wrote does. */
async function forget(language, stillIn = false) {
  await forgetAll();
  sessionStorage.clear();
  localStorage.clear();
  localStorage.setItem('language', language);
  if (stillIn) localStorage.setItem('leave', '1');
  // Loaded anew, for what was read is in the page's memory too.
  location.replace('/');
}
