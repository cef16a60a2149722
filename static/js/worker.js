// The farm's service worker, served as /worker.js with HASH and SHELL before it.
// It keeps what pages are made of, and the pages themselves of one person: out
// of reach of the farm they open as they were, and say how old they are. It
// forgets them when somebody signs in or out, and never keeps another's.
const SHELF = `shell-${HASH}`;
const PAGES = `pages-${HASH}`; // another version of the farm's pages begins anew
const KEPT = /^\/(scan|bench|sweep|B\/[0-9A-Z]{8})?$/;
const PATIENCE = 4000; // milliseconds for the farm to answer
const FRESH = 30 * 60 * 1000; // milliseconds in which a page is not fetched ahead again
let era = 0; // grows when pages are forgotten: what was asked for before is not kept any more

addEventListener("install", (event) => event.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll(SHELL)).then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== SHELF && name !== PAGES) await caches.delete(name);
  await clients.claim();
})()));
addEventListener("message", (event) => event.waitUntil(ahead(event.data.ahead)));
addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  const path = url.pathname.replace(/^\/b\/.*/i, (label) => label.toUpperCase());
  if (/^\/(sign-(in|out)|set-up|P\/.*)$/.test(path)) { forget(event); return; }
  if (request.method === "GET" && path.startsWith("/static/")) event.respondWith(caches.match(request).then((found) => found ?? fetch(request)));
  else if (request.mode !== "navigate") return;
  else if (request.method === "GET" && KEPT.test(path)) event.respondWith(open(event, path, url.search));
  else event.respondWith(fetch(request).catch(() => none(request.method === "POST")));
});

function forget(event) {
  era++;
  event.waitUntil(caches.delete(PAGES));
}

async function open(event, path, search) {
  const now = era;
  try {
    const answer = await Promise.race([fetch(event.request), new Promise((_, late) => setTimeout(late, PATIENCE))]);
    if (answer.ok && !search) event.waitUntil(keep(path, answer.clone(), now));
    return answer;
  } catch {
    return kept(path);
  }
}

// mine is the cache of the person whom the farm names in its answers; another's
// is thrown away first.
async function mine(tag) {
  const owner = await (await caches.open(PAGES)).match("/owner");
  if ((await owner?.text()) === tag) return caches.open(PAGES);
  await caches.delete(PAGES);
  const cache = await caches.open(PAGES);
  await cache.put("/owner", new Response(tag));
  return cache;
}

async function keep(path, answer, now) {
  const tag = answer.headers.get("Bagmark-For");
  const html = (await answer.text()).replace("<html ", `<html data-kept="${Date.now()}" `);
  if (!tag || answer.redirected || now !== era) return;
  const headers = new Headers(answer.headers);
  headers.set("Bagmark-Kept", Date.now());
  await (await mine(tag)).put(path, new Response(html, { headers }));
}

async function kept(path) {
  const cache = await caches.open(PAGES);
  const found = await cache.match(path);
  if (found) return found;
  const scan = path.startsWith("/B/") && await cache.match("/scan");
  if (!scan) return none(false);
  return new Response((await scan.text()).replace("<html ", `<html data-away="${path.slice(3)}" `), { headers: scan.headers });
}

const none = (posted) => new Response(`<!doctype html><html lang="en-GB"><meta name="viewport" content="width=device-width"><title>The farm does not answer</title><h1>The farm does not answer</h1><p>${posted ? "<b>This was not saved.</b> Go back: what you filled in is still there. Send it again when the farm answers." : "This phone does not have this page."}<p><a href="/">Today</a> · <a href="/scan">Scan</a>`, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'" } });

// ahead fetches what will be needed out of reach, one page after the other.
async function ahead(here) {
  const now = era;
  const answer = await fetch("/ahead").catch(() => null);
  if (!answer?.ok) return;
  if (answer.redirected) { era++; await caches.delete(PAGES); return; } // signed out meanwhile
  const { tag, paths } = await answer.json();
  for (const path of new Set([here, ...paths])) {
    if (now !== era) return;
    const old = await (await mine(tag)).match(path);
    if (!KEPT.test(path) || Date.now() - (old?.headers.get("Bagmark-Kept") ?? 0) < FRESH) continue;
    const page = await fetch(path).catch(() => null);
    if (!page) return;
    if (page.ok) await keep(path, page, now);
  }
}
