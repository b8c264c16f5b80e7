// The app without a network: every file of one version is kept, and the page is answered from there.
// A new version is fetched beside the old one and waits until somebody accepts it; calls to the service and
// everything else are not touched.
const VERSION = '{{version}}';
const FILES = {{files}};
// What only an office needs is kept once somebody goes there.
const OFFICE = {{office}};
const KEPT = `yardjar-${VERSION}`;
// Not needed to begin with: kept once asked for, or once the page says that nobody waits for anything else.
const LATER = /^(reckon\.wasm|kinds\.json|strings\/says-\w+\.json|screens\/(blend|bottle)\.js|(scan|scales|sound)\.js|scan\.wasm|icon-\d+\.png)$/;
const BASE = `/app/${VERSION}/`;

// So is what is said in another language than the browser's.
const languageOf = (name) => /^strings\/(\w+)\.json$/.exec(name)?.[1];
const OWN = FILES.map(languageOf).find((one) => one && navigator.language.startsWith(one)) ?? 'en';
// A phone amends what was told on it and says what a sign means, also without a network.
const isAlsoOffline = (name) => /^(office\/(amend|forms|signs)\.js|strings\/(office|signs)-\w+\.json)$/.test(name);
const isLater = (name) => LATER.test(name) || (languageOf(name) ?? OWN) !== OWN;

// What an older version kept is in use here: the new one must bring it along, for it may start where there is no signal.
async function keptBefore() {
  const names = new Set();
  for (const version of await caches.keys()) {
    if (!version.startsWith('yardjar-')) continue;
    for (const { url } of await (await caches.open(version)).keys()) names.add(new URL(url).pathname.replace(/^\/app\/[^/]+\//, ''));
  }
  return names;
}

async function keepAll() {
  const before = await keptBefore();
  const wanted = [...FILES.filter((name) => !isLater(name) || before.has(name)), ...OFFICE.filter((name) => before.has(name))];
  const cache = await caches.open(KEPT);
  // One file that cannot be had fails the whole version: half an app is worse than the old one.
  await cache.addAll(wanted.map((name) => BASE + name));
  const page = await fetch('/', { cache: 'no-cache' });
  const text = await page.clone().text();
  if (!page.ok || !text.includes(BASE)) throw new Error('the page is of another version');
  await cache.put('/', page);
}

async function forgetOthers() {
  for (const name of await caches.keys()) {
    if (name.startsWith('yardjar-') && name !== KEPT) await caches.delete(name);
  }
}

async function answer(request, key) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(key);
  if (kept) return kept;
  const fresh = await fetch(request);
  if (key.startsWith(BASE) && fresh.ok) await cache.put(key, fresh.clone());
  return fresh;
}

// Each by itself: what the line did not bring this time is fetched the next.
async function keep(names) {
  const cache = await caches.open(KEPT);
  const missing = (await Promise.all(names.map(async (name) => !(await cache.match(BASE + name)) && BASE + name))).filter(Boolean);
  await Promise.allSettled(missing.map((name) => cache.add(name)));
}

const SCREENS = /^\/((yard|house|office|find|today|outbox|earlier|phone|signs|sign-in|join|n)(\/.*)?)?$/;

self.addEventListener('install', (event) => event.waitUntil(keepAll()));
self.addEventListener('activate', (event) => event.waitUntil(forgetOthers().then(() => self.clients.claim())));
self.addEventListener('message', (event) => {
  if (event.data === 'take over') self.skipWaiting();
  if (event.data === 'keep office') event.waitUntil(keep(OFFICE));
  if (event.data === 'keep later') event.waitUntil(keep([...FILES.filter(isLater), ...OFFICE.filter(isAlsoOffline)]));
});
self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (request.mode === 'navigate' && SCREENS.test(url.pathname)) event.respondWith(answer(request, '/'));
  else if (url.pathname.startsWith(BASE)) event.respondWith(answer(request, url.pathname));
});
