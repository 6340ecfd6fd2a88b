// Speaks to the service. The session lives in a cookie scripts cannot read; beside it goes a
// token that only this page can have asked for.

/** Why a request did not do what it was to do. `problem` is the service's own word of it. */
export class Trouble extends Error {
  constructor(kind, status = 0, problem = null, retryIn = 0) {
    super(problem?.detail ?? kind);
    Object.assign(this, { kind, status, problem, retryIn });
  }
}

const PATIENCE_MS = 30000;
let token = null;
let member = null;
const watchers = new Set();

/** Hear when signing in or out happens. */
export const onMember = (fn) => watchers.add(fn);

function setMember(told) {
  member = told;
  token = told?.token ?? null;
  for (const fn of watchers) fn(member);
}

/** The member signed in as far as is known; null without. */
export const whoIs = () => member;

async function ask(path, options) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  try {
    const response = await fetch(path, { credentials: 'same-origin', signal: stop.signal, ...options });
    // The line may go between the head of an answer and its end: that is no signal either.
    return await read(response);
  } catch (error) {
    throw error instanceof Trouble ? error : new Trouble('offline');
  } finally {
    clearTimeout(timer);
  }
}

async function read(response) {
  if (response.ok || response.status === 304) {
    if (response.status === 204) return null;
    const kind = response.headers.get('content-type') ?? '';
    return kind.includes('json') ? await response.json() : await response.blob();
  }
  const problem = await response.json().catch(() => null);
  const retryIn = Number(response.headers.get('retry-after') ?? 0);
  const kind =
    { 401: 'signed-out', 429: 'slow-down', 403: 'not-allowed', 404: 'not-found', 410: 'withdrawn', 409: 'conflict' }[response.status]
    ?? (response.status >= 500 || response.status === 408 ? 'server' : 'refused');
  throw new Trouble(kind, response.status, problem, retryIn);
}

/** Ask the service who is signed in; null where nobody is. */
export async function session() {
  try {
    setMember(await ask('/v1/session', {}));
  } catch (trouble) {
    if (trouble.kind === 'signed-out') setMember(null);
    else throw trouble;
  }
  // Somebody left this phone where there was no signal: now the pool hears of it.
  if (member && localStorage.getItem('leave')) await signOut();
  return member;
}

const ATTEMPT_MS = 540000;

// Drawn for one signing in, and kept until its answer has come: a code is good once, but the same
// request sent again gives its session again, also after a reload. The service keeps that up for
// ten minutes.
function attempt() {
  const [at, drawn] = (localStorage.getItem('attempt') ?? '').split(' ');
  const age = Date.now() - Number(at);
  if (drawn && age >= 0 && age < ATTEMPT_MS) return drawn;
  const made = Array.from(crypto.getRandomValues(new Uint8Array(32)), (b) => b.toString(16).padStart(2, '0')).join('');
  // Where nothing can be kept it is drawn anew each time, as if there were none.
  try { localStorage.setItem('attempt', `${Date.now()} ${made}`); } catch { /* said by whoever keeps more */ }
  return made;
}

/** Sign in with a code from a steward or with a token. */
export async function signIn(code) {
  const body = JSON.stringify({ code, attempt: attempt() });
  localStorage.removeItem('leave');
  try {
    setMember(await ask('/v1/session', { method: 'POST', body, headers: { 'Content-Type': 'application/json' } }));
    localStorage.removeItem('attempt');
  } catch (trouble) {
    // Only where nobody knows what came of it is it the same one that is tried again.
    if (!['offline', 'server'].includes(trouble.kind)) localStorage.removeItem('attempt');
    throw trouble;
  }
  return member;
}

/** Sign out; the service forgets this phone. */
export async function signOut() {
  await ask('/v1/session', { method: 'DELETE', headers: await headers() });
  localStorage.removeItem('leave');
  setMember(null);
}

async function headers(more = {}) {
  if (token === null) await session();
  return token === null ? more : { ...more, 'Mendpool-Token': token };
}

async function tell(path, make) {
  try {
    return await ask(path, await make());
  } catch (trouble) {
    if (!(trouble instanceof Trouble) || !['signed-out', 'not-allowed'].includes(trouble.kind) || token === null) throw trouble;
    // Another tab may have signed in anew: the token is asked for once more, then it counts.
    const old = token;
    const was = member?.contributor;
    token = null;
    await session();
    if (token === null || token === old) {
      if (token === null) setMember(null);
      throw trouble;
    }
    // Another member has this phone now: what the one before asked or told does not go out under
    // the new name.
    if (was && member?.contributor !== was) throw trouble;
    return ask(path, await make());
  }
}

/** GET a path of the service. */
export const get = (path) => tell(path, async () => ({ headers: await headers() }));

/**
 * Send a body.
 * @param {string} method PUT, POST or DELETE
 * @param {string} path
 * @param {object|string|Blob} [body] an object goes as JSON, a text as the JSON it already is
 */
export function send(method, path, body) {
  const kind = body instanceof Blob ? body.type : 'application/json';
  const bytes = body === undefined || body instanceof Blob || typeof body === 'string' ? body : JSON.stringify(body);
  return tell(path, async () => ({
    method, body: bytes, headers: await headers(bytes === undefined ? {} : { 'Content-Type': kind }),
  }));
}
