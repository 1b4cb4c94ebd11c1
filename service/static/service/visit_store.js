// The visits that wait on this phone, in IndexedDB: one row a visit, found by its `sent_id`.
//
//   person, unit, address     who wrote it, of which unit, and where it is posted
//   written_at                milliseconds; the order in which they go
//   fields                    [[name, text or File], …] of the form, photos too
//   words                     [[label, text], …] of the same, as it was read on the page
//   state                     waiting, refused (with `errors` by field) or sent (no `fields` any more)
//   reason, sign_in           why it still waits: no_network, server, not_taken or sign_in (with its address)
//   tries, next_try_at        for a server that is in trouble
//   visit_url, meanwhile      of a visit that was sent
//
// Every function returns a promise and rejects where the phone is full or keeps nothing for us.
"use strict";

const visitStore = {
  put: (visit) => inStore("readwrite", (store) => store.put(visit)),
  get: (sentId) => inStore("readonly", (store) => store.get(sentId)),
  remove: (sentId) => inStore("readwrite", (store) => store.delete(sentId)),
  async all() {
    const visits = await inStore("readonly", (store) => store.getAll());
    return visits.sort((one, other) => one.written_at - other.written_at);
  },
};

async function inStore(mode, act) {
  const database = await openStore();
  try {
    return await new Promise((resolve, reject) => {
      // Strict: on the disk before we say so, for the phone may die in the next moment.
      const transaction = database.transaction("visits", mode, { durability: "strict" });
      const asked = act(transaction.objectStore("visits"));
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

function openStore() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("fleetcool", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("visits", { keyPath: "sent_id" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}
