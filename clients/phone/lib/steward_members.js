// A steward's members and invitations.

import { h, refill } from './dom.js';
import { day, t, time } from './words.js';
import { get, send, whoIs } from './api.js';
import { button, field, notice, tick, troubleBox, under, whileBusy } from './parts.js';
import { codeBox } from './steward_code.js';

const byName = (a, b) => a.name.localeCompare(b.name);
const path = (member) => `/v1/members/${encodeURIComponent(member.contributor)}`;

/** Invite somebody, and the invitations that are open. */
export async function invitationsPart() {
  const list = h('div');
  const said = h('div');
  let vouched = false;
  const name = field(t('steward.name'), { maxlength: 60 }, t('steward.name-hint'));
  const make = button(t('steward.invite'), whileBusy(async () => {
    const called = name.input.value.trim();
    if (!called) {
      refill(said, notice(t('steward.name-needed'), 'bad'));
      name.input.focus();
      return;
    }
    try {
      const made = await send('POST', '/v1/invitations', { name: called, vouched });
      refill(said, codeBox(called, made));
      name.input.value = '';
      await drawOpen(list);
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  }), 'main');
  await drawOpen(list);
  return h('section', null, h('h2', null, t('steward.invitations')),
    h('form', { onsubmit: (e) => { e.preventDefault(); make.click(); } }, name,
      tick(t('steward.vouched'), false, (on) => { vouched = on; }, t('steward.vouched-hint')), make),
    said, list);
}

async function drawOpen(list) {
  try {
    const open = (await get('/v1/invitations')).items.filter((one) => one.state === 'open');
    refill(list, open.length > 0 && under(t('steward.open', { n: open.length }), h('ul', null, open.map((one) =>
      h('li', null, h('strong', null, one.name), ', ', t('steward.until', { when: time(one.expires) }), one.for === 'phone' && ` (${t('steward.new-phone')})`)))));
  } catch (trouble) {
    refill(list, troubleBox(trouble, () => drawOpen(list)));
  }
}

/** The members: who was last here when, a code for a new phone, the end of one's access. */
export async function membersPart() {
  const list = h('div');
  await drawMembers(list);
  return h('section', null, h('h2', null, t('steward.members')), list);
}

async function drawMembers(list) {
  try {
    const all = (await get('/v1/members')).items.sort(byName);
    const here = all.filter((one) => one.state !== 'revoked');
    const gone = all.filter((one) => one.state === 'revoked');
    refill(list, here.map((one) => memberCard(one, list)),
      gone.length > 0 && under(t('steward.ended', { n: gone.length }), h('ul', null, gone.map((one) => h('li', null, one.name)))));
  } catch (trouble) {
    refill(list, troubleBox(trouble, () => drawMembers(list)));
  }
}

function memberCard(one, list) {
  const said = h('div');
  const me = one.contributor === whoIs()?.contributor;
  const phone = button(t('steward.code-for'), whileBusy(async () => {
    try { refill(said, codeBox(one.name, await send('POST', `${path(one)}/code`))); } catch (trouble) { refill(said, troubleBox(trouble)); }
  }));
  const end = button(t('steward.end'), whileBusy(async () => {
    if (!confirm(t('steward.end-sure', { name: one.name }))) return;
    try {
      await send('DELETE', path(one));
      await drawMembers(list);
      list.prepend(notice(t('steward.end-done', { name: one.name }), 'good'));
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  }), 'danger');
  const other = one.role === 'steward' && !me;
  const told = [one.role === 'steward' && t('place.steward'), me && t('steward.you'), one.state === 'expired' && t('steward.expired'),
    one.last_used ? t('steward.last', { when: day(one.last_used) }) : t('steward.never')].filter(Boolean);
  // Of many members most are only looked at: what can be done to one lies under its name.
  return h('details.card', null, h('summary', null, h('span', null, one.name, h('small', null, ` ${told.join(', ')}`))), other ? h('p', null, t('steward.not-stewards')) : [phone, !me && end], said);
}

