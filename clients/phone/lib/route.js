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
  if (location.hash === `#${path}`) show();
  else location.hash = path;
}

/** Go to a place without leaving a step back to this one. */
export function goInstead(path) {
  history.replaceState(null, '', `#${path}`);
  show();
}

let turn = 0;
let display = async () => {};

/** Begin: `paint(element, {first})` puts a view on the page. */
export function begin(paint) {
  display = paint;
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
  const module = await (found ?? { r: routes[0] }).r.load();
  const view = await module.show(given);
  // Somebody went on while this was made.
  if (mine === turn) await display(view, { first, path });
}
