// Keeps the pages of a day's visits on this phone, under the number of the person who saw them.
// The worker (`/worker.js`) shows them where there is no network.
"use strict";

const PAGES = "fleetcool-pages-";
const OLDEST_MS = 7 * 24 * 3_600_000;

// Fetches pages one after the other and keeps each that is one; `onKept` is told after each.
async function keepPages(person, addresses, onKept) {
  await workerInCharge();
  const pages = await caches.open(PAGES + person);
  await dropPages(person, pages);
  const files = new Set();
  for (const address of addresses) {
    const answer = await fetch(address);
    // One who is no longer signed in is sent elsewhere, and that is not this page.
    if (!answer.ok || answer.redirected) continue;
    await pages.put(address, answer.clone());
    for (const file of filesOf(await answer.text())) {
      if (!files.has(file)) await fetch(file);
      files.add(file);
    }
    await onKept();
  }
}

// How many of these pages are on this phone, and when the oldest of them was made (null: none).
async function keptPages(person, addresses) {
  const pages = await caches.open(PAGES + person);
  const found = await Promise.all(addresses.map((address) => pages.match(address, { ignoreVary: true })));
  const kept = found.filter(Boolean);
  const made = kept.map((answer) => Date.parse(answer.headers.get("Date")));
  return { kept: kept.length, at: kept.length ? Math.min(...made) : null };
}

// The style, the scripts and the marks of a page; asked for, the worker keeps them.
function filesOf(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const parts = page.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]");
  return [...parts].map((part) => part.getAttribute("src") ?? part.getAttribute("href"));
}

// Lets go of what other people saw, and of what is too old to be of use.
async function dropPages(person, pages) {
  for (const name of await caches.keys()) {
    if (name.startsWith(PAGES) && name !== PAGES + person) await caches.delete(name);
  }
  for (const address of await pages.keys()) {
    const answer = await pages.match(address, { ignoreVary: true });
    if (Date.now() - Date.parse(answer.headers.get("Date")) > OLDEST_MS) await pages.delete(address);
  }
}

// Resolves once the worker stands between this page and the network.
async function workerInCharge() {
  await navigator.serviceWorker.ready;
  if (navigator.serviceWorker.controller) return;
  await new Promise((resolve) => {
    navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true });
  });
}
