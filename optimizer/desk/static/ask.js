// The page of an answer: its parts are fetched when they are wanted, the slider runs over the sums, ticks are kept by the browser.

const page = document.querySelector(".answer");
const RESTS_MS = 350;
const IN_PLACE = { "x-fullbore-in-place": "yes" };

// -- parts ------------------------------------------------------------------------------------------------------------

// Puts the part at an address into a box, follows how far it is, and asks again once it is known.
async function fill(box, address) {
  box.dataset.at = address;
  const reply = await fetch(address, { headers: IN_PLACE });
  const part = partOf(await reply.text());
  if (box.dataset.at !== address) return; // another was asked for meanwhile
  box.replaceChildren(...part.childNodes);
  const far = box.querySelector("form.far");
  if (far) follow(far, () => { if (box.dataset.at === address) fill(box, address); });
  take(box);
}

function partOf(text) {
  const found = new DOMParser().parseFromString(text, "text/html");
  return found.querySelector("#part") || found.querySelector("main");
}

// How far questions are comes over one connection for all of them, since a browser opens few to one address.
const waiting = new Map();
let events = null;

function follow(form, then) {
  waiting.set(form.dataset.events.split("/")[2], { form, then });
  listen();
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)), redirect: "manual" });
  });
}

function listen() {
  if (events) events.close();
  for (const [key, each] of waiting) if (!each.form.isConnected) waiting.delete(key);
  events = waiting.size ? new EventSource(`/asked/${[...waiting.keys()].join(".")}/events`) : null;
  if (!events) return;
  events.addEventListener("far", (event) => {
    const far = JSON.parse(event.data);
    const parts = [];
    if (far.done !== undefined) parts.push(`${far.done} of ${far.of} ${far.what}`);
    if (far.best) parts.push(`best so far ${far.best}`);
    if (waiting.has(far.key)) waiting.get(far.key).form.querySelector(".how").textContent = parts.length ? `: ${parts.join(", ")}` : "";
  });
  events.addEventListener("error", () => { if (events.readyState === EventSource.CLOSED) setTimeout(listen, 3000); });
  events.addEventListener("done", (event) => {
    const { key } = JSON.parse(event.data);
    const known = waiting.get(key);
    waiting.delete(key);
    if (!waiting.size) { events.close(); events = null; }
    if (known && known.form.isConnected) known.then();
  });
}

// Forms within a part bring their answer into the same box.
function take(box) {
  restoreTicks(box);
  slide(box);
  for (const form of box.querySelectorAll("form:not(.far)")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const sent = new URLSearchParams(new FormData(form));
      if (form.method === "get") { fill(box, `${form.action}?${sent}`); return; }
      const reply = await fetch(form.action, { method: "POST", body: sent, headers: IN_PLACE });
      const part = partOf(await reply.text());
      box.replaceChildren(...part.childNodes);
      take(box);
    });
  }
}

function opened(fold) {
  const box = fold.querySelector(":scope > div");
  if (fold.open && box.dataset.at !== fold.dataset.from) fill(box, fold.dataset.from);
}

// -- the slider -------------------------------------------------------------------------------------------------------

function slide(box) {
  const range = box.querySelector("#slide");
  if (!range) return;
  const section = range.closest("section");
  const rows = [...section.querySelectorAll("#sum-rows tbody tr")];
  range.parentElement.hidden = false;
  let rests = 0;
  const show = () => {
    const row = rows[range.valueAsNumber];
    for (const cell of row.querySelectorAll("[data-k]")) {
      const place = section.querySelector(`.chosen-sum [data-k="${cell.dataset.k}"]`);
      const from = cell.dataset.k === "price" ? cell.querySelector("a") : cell;
      place.replaceChildren(...[...from.childNodes].map((node) => node.cloneNode(true)));
    }
    const pointer = section.querySelector(".pointer");
    pointer.setAttribute("cx", row.dataset.x);
    pointer.setAttribute("cy", row.dataset.y);
    const said = (key) => row.querySelector(`[data-k="${key}"]`).textContent.trim();
    range.setAttribute("aria-valuetext", `${said("price")}: ${said("flow")} ${said("name")}`);
    for (const each of rows) {
      each.classList.toggle("chosen", each === row);
      const link = each.querySelector("a");
      if (each === row) link.setAttribute("aria-current", "true"); else link.removeAttribute("aria-current");
    }
    return row;
  };
  range.addEventListener("input", () => {
    const row = show();
    clearTimeout(rests);
    rests = setTimeout(() => choose(row.dataset.sum), RESTS_MS);
  });
  rows.forEach((row, n) => row.querySelector("a").addEventListener("click", (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    range.value = n;
    choose(show().dataset.sum);
  }));
  show();
}

// The sum that is chosen: its bundle is fetched, and what is folded is of that sum from now on.
function choose(sum) {
  const query = new URLSearchParams(location.search);
  if (sum) query.set("sum", sum); else query.delete("sum");
  history.replaceState(null, "", `?${query}`);
  for (const box of page.querySelectorAll("[data-part]")) {
    const address = `${page.dataset.page}/part/${box.dataset.part}?${query}`;
    box.dataset.from = address;
    if (box.dataset.part === "bundle") fill(box, address); else opened(box);
  }
}

// -- ticks ------------------------------------------------------------------------------------------------------------

function restoreTicks(box) {
  for (const list of box.querySelectorAll("[data-ticks]")) {
    for (const tick of list.querySelectorAll('input[type="checkbox"]')) {
      const text = tick.getAttribute("aria-label") || tick.labels[0].textContent;
      const key = `fullbore ${page.dataset.tank} ${list.dataset.ticks} ${text}`;
      tick.checked = localStorage.getItem(key) !== null;
      tick.addEventListener("change", () => {
        if (tick.checked) localStorage.setItem(key, "1"); else localStorage.removeItem(key);
      });
    }
  }
}

if (page) {
  restoreTicks(page);
  slide(page);
  const bundle = page.querySelector("#bundle");
  const far = bundle && bundle.querySelector("form.far");
  if (far) follow(far, () => fill(bundle, bundle.dataset.from));
  for (const box of page.querySelectorAll(".later[data-from]")) fill(box, box.dataset.from);
  for (const fold of page.querySelectorAll("details[data-from]")) fold.addEventListener("toggle", () => opened(fold));
}
