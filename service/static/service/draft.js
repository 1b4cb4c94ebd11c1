// Keeps what is typed into a step on this phone until the server has saved it.
// A reload or a dead phone loses nothing; without this script the form works as it stands.
"use strict";

for (const form of document.querySelectorAll("form[data-draft]")) keepDraft(form);

function keepDraft(form) {
  const key = `fleetcool-draft:${form.dataset.draft}`;
  const saved = form.dataset.saved.split(" ");
  const kept = read(key);

  if (kept && saved.includes(kept.sent_id)) {
    localStorage.removeItem(key);
  } else if (kept && !("bound" in form.dataset)) {
    fill(form, kept);
    form.querySelector("[data-draft-restored]").hidden = false;
  }

  form.addEventListener("input", () => write(key, typed(form)));
  form.addEventListener("submit", (event) => {
    write(key, typed(form));
    if (navigator.onLine) return;
    event.preventDefault();
    form.querySelector("[data-draft-offline]").hidden = false;
  });
}

// All that is typed and chosen, by name. The secret of the form is none of it.
function typed(form) {
  const values = Object.fromEntries(new FormData(form));
  delete values.csrfmiddlewaretoken;
  return values;
}

function fill(form, values) {
  for (const field of form.elements) {
    if (!(field.name in values)) continue;
    if (field.type === "radio") field.checked = field.value === values[field.name];
    else field.value = values[field.name];
  }
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null; // storage is closed to us, or holds no draft
  }
}

function write(key, values) {
  try {
    localStorage.setItem(key, JSON.stringify(values));
  } catch {
    // Storage is full or closed: the form still works, only without the net below it.
  }
}
