// Sends the visits that wait, one at a time, and lets go of one only when the server has said that
// it has it. Sent twice is no harm: the server knows a visit by its `sent_id`.
"use strict";

const MINUTE_MS = 60_000;
const LONGEST_WAIT_MS = 30 * MINUTE_MS;
// Photos over a weak signal take their time; after this it starts again.
const PATIENCE_MS = 4 * MINUTE_MS;

// What is under way when the network goes would hang until then.
let underWay = null;
addEventListener("offline", () => underWay?.abort());

// Sends what one person wrote. `pressed` means now, also what a server in trouble made wait.
// Of several tabs one sends; a second one waits its turn, or with `ifFree` leaves it to the first.
function sendWaiting(person, { pressed = false, ifFree = false, onChange = () => {} } = {}) {
  const send = async () => {
    const visits = await visitStore.all();
    for (const visit of visits.filter((one) => one.person === person && isDue(one, pressed))) {
      await onChange(visit.sent_id);
      const after = await tried(visit);
      await visitStore.put(after);
      await onChange(null);
      // The others would fare no better.
      if (after.reason === "no_network" || after.reason === "sign_in") break;
    }
  };
  // An address without TLS has no locks; there two tabs may both send, and the server sorts it out.
  if (!navigator.locks) return send();
  return navigator.locks.request("fleetcool-visits", { ifAvailable: ifFree }, (lock) => lock && send());
}

function isDue(visit, pressed) {
  return visit.state === "waiting" && (pressed || visit.next_try_at <= Date.now());
}

// The row of a visit after one try to send it.
async function tried(visit) {
  let answer, said;
  try {
    answer = await post(visit);
    said = await answer.json().catch(() => null);
  } catch {
    return { ...visit, reason: "no_network" };
  }
  // A page that signs people in to a network also answers 200: only the visit's number counts.
  if (answer.ok && Number.isInteger(said?.visit)) return sent(visit, said);
  if (answer.status === 422 && said?.errors) {
    return { ...visit, state: "refused", reason: "", errors: said.errors };
  }
  if (answer.status === 401) return { ...visit, reason: "sign_in", sign_in: said?.sign_in };
  const reason = isRefusal(answer.status) ? "not_taken" : "server";
  const tries = visit.tries + 1;
  const wait = Math.min(MINUTE_MS * 2 ** tries, LONGEST_WAIT_MS);
  return { ...visit, reason, tries, next_try_at: Date.now() + wait };
}

// The server is well and has nowhere to put it: the unit is on record no more, or not theirs to see.
// It stays here and is tried again, until a person takes it off the phone.
function isRefusal(status) {
  return [400, 403, 404, 410, 413].includes(status);
}

function sent(visit, said) {
  const { sent_id, person, unit, address, written_at } = visit;
  const { url, meanwhile } = said;
  return { sent_id, person, unit, address, written_at, state: "sent", visit_url: url, meanwhile };
}

async function post(visit) {
  let answer = await postOnce(visit);
  if (answer.status === 403) {
    // The form's secret has changed since: any page of ours brings the new one.
    await fetch(visit.address, { signal: timeLimit(MINUTE_MS).signal });
    answer = await postOnce(visit);
  }
  return answer;
}

function postOnce(visit) {
  const body = new FormData();
  for (const [name, value] of visit.fields) body.append(name, value);
  // A phone may be shared: nobody's visit is filed under another name.
  body.append("written_by", visit.person);
  underWay = timeLimit(PATIENCE_MS);
  return fetch(visit.address, {
    method: "POST",
    body,
    headers: { Accept: "application/json", "X-CSRFToken": csrfToken() },
    signal: underWay.signal,
  });
}

// Given up after so long; older phones know no shorter way to say it.
function timeLimit(milliseconds) {
  const limit = new AbortController();
  setTimeout(() => limit.abort(), milliseconds);
  return limit;
}

function csrfToken() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]*)/)?.[1] ?? "";
}
