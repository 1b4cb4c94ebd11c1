// Serves pages where there is no network. `views.service_worker` puts a line `const SHOP = {…}`
// before this text: the version, the files of the shell, and the addresses named below.
//
// Two kinds of caches. The shell holds files that are the same for everyone. The pages hold what one
// person saw; only `service/offline.js` writes them, under that person's number, and they go as soon
// as somebody signs in or out on this phone. What is sent (POST) is never kept here.
"use strict";

const SHELL = `fleetcool-shell-${SHOP.version}`;
const PAGES = "fleetcool-pages-";
// A weak signal is worse than none: after this long the page of the morning is shown.
const PATIENCE_MS = 5000;

self.addEventListener("install", (event) => event.waitUntil(fillShell()));
self.addEventListener("activate", (event) => event.waitUntil(takeOver()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "POST" && SHOP.doors.includes(pathname)) event.waitUntil(forgetPages());
  if (request.method !== "GET" || pathname.startsWith(SHOP.back_office)) return;
  if (pathname.startsWith(SHOP.static)) event.respondWith(fromShell(event));
  else if (request.mode === "navigate") event.respondWith(fromNetwork(request));
});

async function fillShell() {
  const shell = await caches.open(SHELL);
  await shell.addAll([SHOP.fallback, ...SHOP.files]);
  await self.skipWaiting();
}

async function takeOver() {
  for (const name of await caches.keys()) {
    if (name.startsWith("fleetcool-shell-") && name !== SHELL) await caches.delete(name);
  }
  await self.clients.claim();
}

async function forgetPages() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PAGES)).map((name) => caches.delete(name)));
}

// What is kept comes at once and is renewed behind, so that a new version shows at the next page.
async function fromShell(event) {
  const shell = await caches.open(SHELL);
  const kept = await shell.match(event.request);
  const renewed = fetch(event.request).then(async (answer) => {
    if (answer.ok) await shell.put(event.request, answer.clone());
    return answer;
  });
  if (!kept) return renewed;
  event.waitUntil(renewed.catch(() => null));
  return kept;
}

async function fromNetwork(request) {
  const kept = await keptPage(request);
  try {
    const asked = fetch(request);
    const answer = await (kept ? Promise.race([asked, patience()]) : asked);
    // A gateway that cannot reach the shop is no network either.
    return answer.status >= 502 && kept ? kept : answer;
  } catch {
    return kept ?? (await caches.match(SHOP.fallback, { cacheName: SHELL })) ?? Response.error();
  }
}

// The page of an address, whatever was asked of it behind the question mark.
async function keptPage(request) {
  for (const name of await caches.keys()) {
    if (!name.startsWith(PAGES)) continue;
    const kept = await caches.match(request, { cacheName: name, ignoreSearch: true, ignoreVary: true });
    if (kept) return kept;
  }
  return undefined;
}

function patience() {
  return new Promise((_, give_up) => setTimeout(give_up, PATIENCE_MS));
}
