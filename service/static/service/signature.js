// A pad to sign on with a finger, a pen or the mouse. Strokes go into a hidden field as
// [[[x, y], …], …], each number in parts of the pad's width. The typed name is always enough.
"use strict";

const LEAST_MOVE = 0.004; // of the width: nearer points add nothing to the line
const MOST_POINTS = 4500;

for (const box of document.querySelectorAll("[data-sign-into]")) signOn(box);

function signOn(box) {
  const canvas = box.querySelector("canvas");
  const field = document.getElementById(box.dataset.signInto);
  let strokes = JSON.parse(field.value || "[]");
  let points = strokes.flat().length;
  let current = null;

  box.hidden = false;
  fit();
  window.addEventListener("resize", fit);

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    current = [];
    strokes.push(current);
    add(event);
  });
  canvas.addEventListener("pointermove", (event) => current && add(event));
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, () => {
      current = null;
      field.value = JSON.stringify(strokes);
    });
  }
  box.querySelector("button").addEventListener("click", () => {
    strokes = [];
    points = 0;
    field.value = "";
    draw();
  });

  function add(event) {
    const pad = canvas.getBoundingClientRect();
    const x = part(event.clientX - pad.left, pad.width, 1);
    const y = part(event.clientY - pad.top, pad.width, pad.height / pad.width);
    const last = current.at(-1);
    if (points >= MOST_POINTS || (last && Math.hypot(x - last[0], y - last[1]) < LEAST_MOVE)) return;
    current.push([x, y]);
    points += 1;
    draw();
  }

  // The drawing follows the pad's size on the screen, and is sharp on a fine one.
  function fit() {
    const pad = canvas.getBoundingClientRect();
    canvas.width = pad.width * devicePixelRatio;
    canvas.height = pad.height * devicePixelRatio;
    draw();
  }

  function draw() {
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, canvas.width, canvas.height);
    pen.lineWidth = Math.max(2, canvas.width / 200);
    pen.lineCap = pen.lineJoin = "round";
    for (const stroke of strokes) {
      pen.beginPath();
      for (const [x, y] of stroke) pen.lineTo(x * canvas.width, y * canvas.width);
      if (stroke.length === 1) pen.lineTo(stroke[0][0] * canvas.width + 1, stroke[0][1] * canvas.width);
      pen.stroke();
    }
  }
}

function part(distance, width, most) {
  return Math.round(Math.min(Math.max(distance / width, 0), most) * 1000) / 1000;
}
