// Keeps the page itself on the phone, so that it opens with no signal. `self.PAGE` (version and
// files) is put before this by the service; another version is another cache.

const { version, files } = self.PAGE;
const CACHE = `page-${version}`;
const isExtra = (file) => file.startsWith('/page/words/') && !file.startsWith('/page/words/en');

self.addEventListener('install', (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    const fresh = (list) => list.map((file) => new Request(file, { cache: 'reload' }));
    await cache.addAll(fresh(files.filter((file) => !isExtra(file))));
    // Other languages: good to have, no reason to be without the page.
    await Promise.allSettled(fresh(files.filter(isExtra)).map((request) => cache.add(request)));
  })());
});

// The page that is open asks for it; taking over under it would mix modules of two versions.
self.addEventListener('message', (event) => {
  if (event.data === 'take over') event.waitUntil(self.skipWaiting());
});

self.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith('page-') && name !== CACHE);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

// Only the page's own files are answered from here: what the service says is never kept, for it
// may be somebody else's the next time.
self.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || url.origin !== location.origin || !files.includes(url.pathname)) return;
  event.respondWith((async () => {
    const cache = await caches.open(CACHE);
    const kept = await cache.match(url.pathname);
    if (kept) return kept;
    const came = await fetch(event.request);
    if (came.ok && isExtra(url.pathname)) await cache.put(url.pathname, came.clone()).catch(() => {});
    return came;
  })());
});
