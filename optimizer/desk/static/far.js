// Keeps what questions have found by now up to date, and loads the page again once one of them is answered. All questions of a page
// come over one connection, since a browser opens few of them to one address.
const forms = new Map([...document.querySelectorAll("form.far")].map((form) => [form.dataset.events.split("/")[2], form]));
if (forms.size) {
  const events = new EventSource(`/asked/${[...forms.keys()].join(".")}/events`);
  events.addEventListener("far", (event) => {
    const far = JSON.parse(event.data);
    const parts = [];
    if (far.done !== undefined) parts.push(`${far.done} of ${far.of} ${far.what}`);
    if (far.best) parts.push(`best so far ${far.best}`);
    if (far.most) parts.push(`bound ${far.most}`);
    if (far.steps) parts.push(`${far.steps} steps`);
    forms.get(far.key).querySelector(".how").textContent = parts.length ? `: ${parts.join(", ")}` : "";
  });
  events.addEventListener("error", () => {
    if (events.readyState === EventSource.CLOSED) setTimeout(() => location.reload(), 5000);
  });
  events.addEventListener("done", () => { events.close(); location.reload(); });
}
