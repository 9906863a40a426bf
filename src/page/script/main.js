// ---- the beginning ------------------------------------------------------------------------------------------------------------------------

el("keep").addEventListener("change", () => {
  try {
    if (el("keep").checked) keepJob();
    else localStorage.removeItem(KEPT);
  } catch { el("keep").checked = false; }
});

async function begin() {
  try {
    await compileModule();
  } catch (problem) {
    fault({ error: `this browser cannot run the page: ${problem.message}` }, {});
    return;
  }
  const given = JSON.parse(el("job").textContent);
  const kept = given ? null : keptJob();
  if (kept) el("keep").checked = true;
  if (el("moving").checked) startMoving();
  await (given || kept ? openJob(given || kept) : openExample(0));
  showQuestions(); // after the first sign of an answer
}
begin();
