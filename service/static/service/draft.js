// Keeps what is typed into a form on this phone until it is saved. A reload, a tab that the phone
// drops or a dead battery loses nothing; without this script the form works as it stands.
//
// The form says in `data-draft` under which name (whose and of what), in `data-saved` which numbers
// the server has already, and with `data-bound` that the server gave it back filled in.
"use strict";

// Not typed by anybody: a page knows its own.
const NOT_TYPED = ["csrfmiddlewaretoken", "seen_at", "logged_at"];
// Older than this it is of another stop, and would pass for what was read today.
const DRAFT_LASTS_MS = 24 * 3_600_000;

for (const form of document.querySelectorAll("form[data-draft]")) keepDraft(form);

function keepDraft(form) {
  const kept = readDraft(form);
  if (kept && isOver(form, kept)) {
    localStorage.removeItem(draftKey(form));
  } else if (kept && !("bound" in form.dataset)) {
    fillDraft(form, kept.values);
    form.querySelector("[data-draft-restored]").hidden = false;
  }

  form.addEventListener("input", () => writeDraft(form));
  form.addEventListener("reset", () => dropDraft(form));
  form.addEventListener("submit", (event) => {
    writeDraft(form);
    const offline = form.querySelector("[data-draft-offline]");
    if (navigator.onLine || !offline) return;
    event.preventDefault();
    offline.hidden = false;
  });
}

// What was typed is kept elsewhere, or is to be forgotten.
function dropDraft(form) {
  if (form.dataset.draft) localStorage.removeItem(draftKey(form));
  form.querySelector("[data-draft-restored]").hidden = true;
}

// Something else is in the form now, which is kept elsewhere: the draft stays as it is.
function leaveDraft(form) {
  delete form.dataset.draft;
  form.querySelector("[data-draft-restored]").hidden = true;
}

function draftKey(form) {
  return `fleetcool-draft:${form.dataset.draft}`;
}

function isOver(form, { values, at }) {
  return form.dataset.saved.split(" ").includes(values.sent_id) || Date.now() - at > DRAFT_LASTS_MS;
}

function fillDraft(form, values) {
  for (const field of form.elements) {
    if (!field.name || field.type === "file" || NOT_TYPED.includes(field.name)) continue;
    const value = values[field.name];
    if (["checkbox", "radio"].includes(field.type)) field.checked = [value].flat().includes(field.value);
    else if (value !== undefined) field.value = value;
    const fold = field.closest("details");
    if (value && fold) fold.open = true;
  }
}

function readDraft(form) {
  try {
    const kept = JSON.parse(localStorage.getItem(draftKey(form)));
    return kept?.values ? kept : null;
  } catch {
    return null; // storage is closed to us, or holds no draft
  }
}

function writeDraft(form) {
  if (!form.dataset.draft) return;
  const typed = [...new FormData(form)].filter(
    ([name, value]) => typeof value === "string" && !NOT_TYPED.includes(name),
  );
  try {
    const values = {}; // a name with several ticks holds a list
    for (const [name, value] of typed) values[name] = name in values ? [values[name], value].flat() : value;
    const kept = { values, at: Date.now() };
    localStorage.setItem(draftKey(form), JSON.stringify(kept));
  } catch {
    // Storage is full or closed: the form still works, only without the net below it.
  }
}
