// Puts an answer that comes later into its part of the page, and leaves all else on the page as it is: a watch may be running.
function follow(form) {
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
  events.addEventListener("done", () => { events.close(); replace(form.closest(".part")); });
  events.addEventListener("error", () => {
    if (events.readyState === EventSource.CLOSED) setTimeout(() => replace(form.closest(".part")), 5000);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  });
  return events;
}

async function replace(part) {
  if (!part || !part.isConnected) return;
  const fresh = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html").getElementById(part.id);
  const open = following.get(part) || [];
  if (!fresh || !part.isConnected) return;
  for (const events of open) events.close();
  part.replaceWith(document.adoptNode(fresh));
  start(fresh);
}

const following = new Map();
function start(part) {
  following.set(part, [...part.querySelectorAll("form.later")].map(follow));
}
for (const part of document.querySelectorAll(".part")) start(part);
