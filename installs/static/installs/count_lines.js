// Says under a box of lines how many are not blank, as they are typed or scanned.
for (const box of document.querySelectorAll("textarea[data-count-lines]")) {
  const shown = document.querySelector(`output[data-lines-of="${box.dataset.countLines}"]`);
  const count = () => {
    const lines = box.value.split("\n").filter((line) => line.trim() !== "");
    shown.textContent = `${shown.dataset.words} ${lines.length}`;
  };
  box.addEventListener("input", count);
  count();
}
