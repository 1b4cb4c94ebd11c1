// The visit pages with and without a network. A visit is first written to this phone and then sent;
// what waits is sent by itself: when a page opens, when the network returns, and every minute.
// Without this script the form is posted as it stands.

const place = document.getElementById("offline").dataset;
const form = document.getElementById("visit-form");
const person = place.person;
const SENT_SHOWN_MS = 12 * 60 * MINUTE_MS;

let said = [];
let sending = null;
let saving = false;

if (form) {
  beginVisit(form);
  form.addEventListener("submit", save);
}
// A page that the browser kept whole would send its visit under the old number.
addEventListener("pageshow", (event) => event.persisted && location.reload());
addEventListener("hashchange", mend);
addEventListener("online", () => sendAll({ pressed: true }));
setInterval(() => sendAll({ ifFree: true }), MINUTE_MS);

await mend();
sendAll({ pressed: true });
keepDay();

async function save(event) {
  event.preventDefault();
  if (saving) return;
  saving = true;
  const visit = visitOf(form, person);
  try {
    await visitStore.put(visit);
  } catch {
    postAsItStands();
    return;
  }
  navigator.storage?.persist?.();
  dropDraft(form);
  leaveDraft(form);
  showForm(false);
  said = [];
  sending = visit.sent_id;
  await draw();
  lookAtNotice();
  await sendAll({ pressed: true });
  await afterSending(visit.sent_id);
}

async function afterSending(sentId) {
  const visit = await visitStore.get(sentId);
  if (visit.state === "sent") {
    await visitStore.remove(sentId);
    location.assign(visit.visit_url);
  } else if (visit.state === "refused") {
    showForm(true);
    showErrors(form, visit.errors);
  }
}

// A form whose visit is on its way is put aside, so that nothing more is typed into it.
function showForm(shown) {
  saving = !shown;
  form.inert = !shown;
  for (const part of document.querySelectorAll("[data-with-form]")) part.hidden = !shown;
}

// The phone keeps nothing: with a network the form goes as it would without this script.
function postAsItStands() {
  saving = false;
  said = [noticeCopy(navigator.onLine ? "no-room" : "no-room-no-network")];
  visitNotice.replaceChildren(...said);
  lookAtNotice();
  if (!navigator.onLine) return;
  form.elements.csrfmiddlewaretoken.value = csrfToken() || form.elements.csrfmiddlewaretoken.value;
  HTMLFormElement.prototype.submit.call(form);
}

// Brings a visit that was refused back into its form: the address ends in `#mend=` and its number.
async function mend() {
  const sentId = form && location.hash.match(/^#mend=(.+)$/)?.[1];
  const visit = sentId && (await visitStore.get(sentId).catch(() => null));
  if (visit?.state !== "refused" || visit.person !== person) return;
  showForm(true);
  leaveDraft(form);
  fillVisit(form, visit.fields);
  said = [noticeCopy("mending")];
  await draw();
  showErrors(form, visit.errors);
}

async function sendAll(how) {
  const onChange = (sentId) => {
    sending = sentId;
    return draw();
  };
  try {
    await dropLongSent();
    await sendWaiting(person, { ...how, onChange });
  } catch {
    // A phone that keeps nothing for us has nothing waiting either.
  }
  sending = null;
  await draw();
}

async function dropLongSent() {
  for (const { sent_id, state, written_at } of await visitStore.all()) {
    if (state === "sent" && Date.now() - written_at > SENT_SHOWN_MS) await visitStore.remove(sent_id);
  }
}

function draw() {
  return drawNotice(person, { said, sending, onSend: () => sendAll({ pressed: true }), onRemove });
}

async function onRemove(sentId) {
  await visitStore.remove(sentId);
  await draw();
}

async function keepDay() {
  if (!navigator.serviceWorker) return;
  try {
    await navigator.serviceWorker.register(place.worker);
    await keepPages(person, [...new Set([place.day, location.pathname, ...dayAddresses()])], draw);
  } catch {
    // No network: what is on this phone stays as it is.
  }
}
