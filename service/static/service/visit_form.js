// The visit form as a row of the store, and back: what is typed and chosen, photos too, by name.
"use strict";

// `form` is #visit-form. The secret of the form is none of its fields.
function visitOf(form, person) {
  form.elements.logged_at.value ||= new Date().toISOString();
  const sent = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
  const fields = sent.filter(([, value]) => !(value instanceof File) || value.size);
  return {
    sent_id: form.elements.sent_id.value,
    person,
    unit: [form.dataset.truck, form.dataset.serial].filter(Boolean).join(" · "),
    address: new URL(form.action).pathname,
    written_at: Date.now(),
    fields,
    words: wordsOf(form, fields),
    state: "waiting",
    reason: "",
    tries: 0,
    next_try_at: 0,
  };
}

// A page from the worker carries the number of an earlier visit; a browser that reloads a page may
// bring back what its hidden fields held.
function beginVisit(form) {
  if (self.crypto.randomUUID) form.elements.sent_id.value = crypto.randomUUID();
  form.elements.logged_at.value = "";
}

function fillVisit(form, fields) {
  for (const element of form.elements) {
    if (!element.name || element.name === "csrfmiddlewaretoken") continue;
    const given = fields.filter(([name]) => name === element.name).map(([, value]) => value);
    if (element.type === "file") element.files = fileList(given);
    else if (["checkbox", "radio"].includes(element.type)) element.checked = given.includes(element.value);
    else if (given.length) element.value = given[0];
    if (given.some((value) => value !== "")) reveal(element);
  }
  form.dispatchEvent(new Event("input", { bubbles: true }));
}

function fileList(files) {
  const carrier = new DataTransfer();
  for (const file of files) carrier.items.add(file);
  return carrier.files;
}

// Puts the words of each field before it, those of no field before all.
function showErrors(form, errors) {
  for (const old of form.querySelectorAll("[data-refused]")) old.remove();
  for (const [name, words] of Object.entries(errors)) {
    const named = name ? form.elements[name] : null;
    const field = named instanceof RadioNodeList ? named[0] : named;
    const told = Object.assign(document.createElement("p"), { className: "wrong", role: "alert" });
    told.textContent = words.join(" ");
    told.dataset.refused = "";
    (field?.closest(".measure, fieldset, div") ?? form).prepend(told);
    if (field) reveal(field);
  }
  form.querySelector("[data-refused]")?.scrollIntoView({ block: "center", behavior: "instant" });
}

// What was typed into a visit that is kept, as [label, text], for one that is never sent.
function wordsOf(form, fields) {
  const told = fields.filter(([, value]) => typeof value === "string" && value.trim());
  return told.flatMap(([name, value]) => {
    const named = form.elements[name];
    const field = named instanceof RadioNodeList ? [...named].find((one) => one.value === value) : named;
    const label = field?.labels?.[0]?.textContent.trim();
    if (!label) return []; // hidden, and typed by nobody
    if (field.type === "checkbox") return [[label, "✓"]];
    if (field.type === "radio") return [[field.closest("fieldset").firstElementChild.textContent, label]];
    return [[label, field.selectedOptions?.[0]?.text ?? value]];
  });
}

// Opens what a field is folded away in.
function reveal(field) {
  for (let part = field.parentElement; part; part = part.parentElement) {
    if (part.matches("details")) part.open = true;
    if (part.hidden) part.hidden = false;
  }
}
