// Writes under each value of the visit form how it is judged, as it is typed, and what the values
// mean together. A doubtful value is never refused: it is read again, and that is ticked. What would
// be asked when the visit is sent, perhaps miles away, is asked here, at the truck.
"use strict";

{
  const form = document.getElementById("visit-form");
  const physics = JSON.parse(document.getElementById("visit-physics").textContent);
  const readAgain = document.getElementById("visit-read-again");
  // A person is given time to finish a number before it is called impossible.
  const PAUSE_MS = 300;
  const OF_PRESSURE = ["suction_kpa", "discharge_kpa", "suction_line_c", "liquid_line_c"];
  const fields = visitJudging.JUDGED.filter((name) => form.elements[name]);
  let pause = null;

  form.addEventListener("input", () => {
    clearTimeout(pause);
    pause = setTimeout(show, PAUSE_MS);
  });
  form.addEventListener("change", show);
  form.addEventListener("reset", () => setTimeout(show));
  form.addEventListener("submit", check);
  form.noValidate = true; // the browser's own check cannot open what is folded away
  show();

  function show() {
    label();
    const values = typed();
    const judged = visitJudging.judge(values, physics);
    // Before an output is chosen nobody has said that the unit stood.
    if (!values.output) drop(judged, "standing");
    for (const name of fields) write(name, judged[name]);
    advise(visitJudging.advise(judged));
    require(visitJudging.isDoubtful(judged));
  }

  // Numbers that are brought back stay in the units that they were typed in, whatever the page is in.
  function label() {
    for (const [name, words] of Object.entries(physics.labels[form.elements.unit_system.value])) {
      const place = form.querySelector(`label[for=id_${name}]`);
      if (place && place.textContent !== words) place.textContent = words;
    }
  }

  function drop(judged, code) {
    for (const [name, judgement] of Object.entries(judged)) {
      if (judgement.code === code) delete judged[name];
    }
  }

  // Says to the browser what is still wanted before the visit is saved.
  function require(doubtful) {
    const { output, read_again } = form.elements;
    readAgain.hidden = !doubtful;
    read_again.required = doubtful;
    if (!doubtful) read_again.checked = false;
    const pressures = OF_PRESSURE.some((name) => form.elements[name]?.value.trim());
    for (const radio of output) radio.required = pressures;
    for (const name of fields) {
      const field = form.elements[name];
      const unread = field.value.trim() && numberOf(field.value) === null;
      field.setCustomValidity(unread ? physics.words.codes.misread : "");
    }
  }

  function check(event) {
    show();
    const wanting = [...form.elements].filter((element) => !element.validity.valid);
    if (!wanting.length) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    wanting.forEach(reveal); // of visit_form.js
    wanting[0].scrollIntoView({ block: "center", behavior: "instant" });
    wanting[0].reportValidity();
  }

  // What is typed, in internal units, by field.
  function typed() {
    const values = { output: form.elements.output.value };
    const units = physics.units[form.elements.unit_system.value];
    for (const name of fields) {
      const number = numberOf(form.elements[name].value);
      const { scale, offset } = units[name];
      values[name] = number === null ? null : number * scale + offset;
    }
    return values;
  }

  function numberOf(text) {
    const plain = text.trim().replace("−", "-").replace(",", ".");
    return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
  }

  function write(field, judgement) {
    const place = document.getElementById(`judged-${field}`);
    if (!place) return;
    const { verdicts, codes } = physics.words;
    const words = judgement ? `${verdicts[judgement.verdict]} ${codes[judgement.code] ?? ""}`.trim() : "";
    place.className = judgement ? `judged ${judgement.verdict}` : "judged";
    // The same words again would be read aloud again.
    if (place.textContent !== words) place.textContent = words;
  }

  function advise(codes) {
    const place = document.getElementById("visit-advice");
    const told = codes.join(" ");
    if (place.dataset.told === told) return;
    place.dataset.told = told;
    const { advice, advice_title, check_title } = physics.words;
    const parts = codes.length ? [part("h3", advice_title)] : [];
    for (const { means, check, caution } of codes.map((code) => advice[code])) {
      const line = part("p", "");
      line.append(part("strong", means), ` ${check_title} ${check}`);
      parts.push(line);
      if (caution) parts.push(Object.assign(part("p", caution), { className: "caution" }));
    }
    place.replaceChildren(...parts);
  }

  function part(name, text) {
    return Object.assign(document.createElement(name), { textContent: text });
  }
}
