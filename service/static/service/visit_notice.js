// The notice on every visit page: what waits on this phone, what was sent, what is to be mended,
// and how many units of the day are here. The words are the templates of `service/parts/offline.html`.
"use strict";

const visitNotice = document.getElementById("visit-notice");

// `said` are the parts that stand above the list, `sending` is the visit on its way; `onRemove` is
// told the number of a visit that is not to be kept any more.
async function drawNotice(person, { said, sending, onSend, onRemove }) {
  const visits = await visitStore.all().catch(() => []);
  const mine = visits.filter((visit) => visit.person === person);
  const others = visits.filter((visit) => visit.person !== person && visit.state !== "sent");
  const parts = [...said];
  if (mine.length) parts.push(noticeList(mine, sending, { onSend, onRemove }));
  if (others.length) parts.push(noticeCopy("others", { count: others.length }));
  const day = dayAddresses();
  if (day.length && "caches" in self) {
    const { kept, at } = await keptPages(person, day);
    parts.push(noticeCopy("kept", { kept, all: day.length, at: at ? noticeTime(at) : "–" }));
  }
  visitNotice.replaceChildren(...parts);
}

// Where the form was there is nothing any more; who reads by ear or by keyboard goes on from here.
function lookAtNotice() {
  visitNotice.tabIndex = -1;
  visitNotice.focus({ preventScroll: true });
  visitNotice.scrollIntoView({ block: "center", behavior: "instant" });
}

// The addresses of the units that this page lists for the day.
function dayAddresses() {
  const links = [...document.querySelectorAll("a[data-visit-log]")];
  return [...new Set(links.map((link) => link.pathname))];
}

function noticeList(visits, sending, { onSend, onRemove }) {
  const section = noticeCopy("visits");
  section.querySelector("ul").replaceChildren(...visits.map((visit) => noticeLine(visit, sending, onRemove)));
  const button = section.querySelector("[data-send]");
  button.hidden = !visits.some((visit) => visit.state === "waiting");
  button.addEventListener("click", onSend);
  return section;
}

function noticeLine(visit, sending, onRemove) {
  const kind = visit.sent_id === sending ? "sending" : noticeKind(visit);
  const item = noticeCopy(kind, { unit: visit.unit, at: noticeTime(visit.written_at) });
  item.dataset.state = kind;
  const link = item.querySelector("[data-slot=link]");
  if (link) link.href = noticeLink(visit);
  const errors = item.querySelector("[data-slot=errors]");
  for (const words of errors ? Object.values(visit.errors).flat() : []) {
    errors.append(noticePart("li", words));
  }
  for (const [label, text] of item.querySelector("dl") ? visit.words : []) {
    item.querySelector("dl").append(noticePart("dt", label), noticePart("dd", text));
  }
  const remove = item.querySelector("[data-remove]");
  remove?.addEventListener("click", () => confirm(remove.dataset.remove) && onRemove(visit.sent_id));
  return item;
}

function noticePart(name, text) {
  return Object.assign(document.createElement(name), { textContent: text });
}

function noticeKind({ state, reason, meanwhile }) {
  if (state === "sent" && meanwhile) return "meanwhile";
  return state === "waiting" && ["server", "sign_in", "not_taken"].includes(reason) ? reason : state;
}

function noticeLink({ state, reason, visit_url, sign_in, address, sent_id }) {
  if (state === "sent") return visit_url;
  return reason === "sign_in" ? sign_in : `${address}#mend=${sent_id}`;
}

// A copy of a template of the page, with its slots filled.
function noticeCopy(name, slots = {}) {
  const template = document.getElementById(`offline-${name}`);
  const part = template.content.firstElementChild.cloneNode(true);
  for (const [slot, text] of Object.entries(slots)) {
    part.querySelector(`[data-slot=${slot}]`).textContent = text;
  }
  return part;
}

// The time of day; with the day if it was another one.
function noticeTime(milliseconds) {
  const at = new Date(milliseconds);
  const how = { hour: "2-digit", minute: "2-digit" };
  if (at.toDateString() !== new Date().toDateString()) Object.assign(how, { day: "numeric", month: "short" });
  return at.toLocaleString(document.documentElement.lang, how);
}
