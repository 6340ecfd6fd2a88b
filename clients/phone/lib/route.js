// Places of the page by the address behind '#'. A place that is gone to takes the focus.

const routes = [];

/** Say which view stands at an address; `:name` takes a part of it. */
export function at(pattern, load) {
  const names = [];
  const form = pattern.replace(/:(\w+)/g, (_, name) => { names.push(name); return '([^/?]+)'; });
  routes.push({ form: new RegExp(`^${form}$`), names, load });
}

/** Go to a place. */
export function go(path) {
  // A second tap while a place is being made is the same tap.
  if (heading === path) return;
  if (location.hash === `#${path}`) { show(); return; }
  heading = path;
  location.hash = path;
}

/** Go to a place without leaving a step back to this one. */
export function goInstead(path) {
  history.replaceState(null, '', `#${path}`);
  show();
}

let turn = 0;
let heading = null;
let display = async () => {};
let failed = null;
let tellBusy = () => {};
const SLOW_MS = 300;

/**
 * Begin: `paint(element, {first})` puts a view on the page, `broken(error)` makes one that says
 * that a view could not be made, `busy(on)` tells that one is long in coming.
 */
export function begin(paint, { broken, busy }) {
  display = paint;
  failed = broken;
  tellBusy = busy;
  addEventListener('hashchange', () => show());
  return show(true);
}

async function show(first = false) {
  turn += 1;
  const mine = turn;
  const [path, query = ''] = (location.hash.replace(/^#/, '') || '/').split('?');
  const found = routes.map((r) => ({ r, m: r.form.exec(path) })).find(({ m }) => m);
  const given = Object.fromEntries(new URLSearchParams(query));
  found?.r.names.forEach((name, i) => { given[name] = decodeURIComponent(found.m[i + 1]); });
  heading = location.hash.replace(/^#/, '') || '/';
  const slow = setTimeout(() => tellBusy(true), SLOW_MS);
  let view;
  try {
    const module = await (found ?? { r: routes[0] }).r.load();
    view = await module.show(given);
  } catch (error) {
    // A view that does not come must not be a tap that does nothing.
    view = failed(error);
  } finally {
    clearTimeout(slow);
  }
  // Somebody went on while this was made.
  if (mine !== turn) return;
  heading = null;
  tellBusy(false);
  await display(view, { first, path });
}
