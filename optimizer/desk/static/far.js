// Keeps what a question has found by now up to date, and loads the page again once it is answered.
for (const form of document.querySelectorAll("form.far")) {
  const events = new EventSource(form.dataset.events);
  const how = form.querySelector(".how");
  events.addEventListener("far", (event) => {
    const far = JSON.parse(event.data);
    const parts = [];
    if (far.done !== undefined) parts.push(`${far.done} of ${far.of} ${far.what}`);
    if (far.best) parts.push(`best so far ${far.best}`);
    if (far.steps) parts.push(`${far.steps} steps`);
    how.textContent = parts.length ? `: ${parts.join(", ")}` : "";
  });
  events.addEventListener("done", () => { events.close(); location.reload(); });
}
