// The stopwatch. Times are those of the events themselves, so that a slow page falsifies none; rounds are kept by the browser until
// they are entered, and a watch that runs goes on when the page is opened again.
const box = document.querySelector("[data-watch]");
const form = document.getElementById("fill");
const field = document.getElementById("seconds");
const button = box.querySelector(".watch");
const [what, time] = [button.querySelector(".what"), button.querySelector(".time")];
const [list, mean] = [box.querySelector(".laps"), box.querySelector(".mean")];
const KEY = `fullbore-watch:${box.dataset.watch}`;
const SHORTEST_MS = 300; // a second press so soon is a finger that bounced
const LONGEST_MS = 86_400_000;
const APART_MS = 250;
const KEPT = ["volume", "mark", "container", "mouth", "height", "watts", "into"];

const now = (event) => performance.timeOrigin + event.timeStamp;
let state = { laps: [], started: 0, wall: 0, sent: false, fields: {} };
let pressed = -Infinity;
let awake = null;

function kept() {
  try { return JSON.parse(localStorage.getItem(KEY)) || null; } catch { return null; }
}

function keep() {
  for (const name of KEPT) state.fields[name] = form.elements[name].value;
  state.states = [...form.querySelectorAll("[name=state]:checked")].map((each) => each.value);
  try { localStorage.setItem(KEY, JSON.stringify(state)); } catch { /* a browser that keeps nothing */ }
}

function toggle(at) {
  if (Math.abs(at - pressed) < SHORTEST_MS) return;
  pressed = at;
  if (state.started) {
    const took = at - state.started;
    const slept = Math.abs(Date.now() - state.wall - took) > APART_MS;
    state.laps.push({ text: (Math.round(took / 10) / 100).toFixed(2), out: slept, why: slept ? "the clock stood still meanwhile" : "" });
    state.started = 0;
  } else {
    state.started = at;
    state.wall = Date.now();
  }
  state.sent = false;
  write();
  keep();
  show();
  wake();
}

function write() {
  field.value = state.laps.filter((lap) => !lap.out).map((lap) => lap.text).join(", ");
}

function show() {
  button.classList.toggle("running", Boolean(state.started));
  what.textContent = state.started ? "Stop" : state.laps.length ? "Next round" : "Start";
  if (!state.started) time.textContent = state.laps.length ? state.laps.at(-1).text : "0.0";
  list.replaceChildren(...state.laps.map(row));
  const times = state.laps.filter((lap) => !lap.out).map((lap) => Number(lap.text)).filter((each) => each > 0);
  const middle = times.reduce((sum, each) => sum + each, 0) / times.length;
  const rounds = times.length === 1 ? "1 round" : `${times.length} rounds, mean ${middle.toFixed(2)} s`;
  mean.textContent = times.length ? rounds : "";
}

function row(lap, n) {
  const item = document.createElement("li");
  const text = document.createElement(lap.out ? "s" : "span");
  const strike = document.createElement("button");
  text.textContent = `${lap.text} s`;
  strike.type = "button";
  strike.className = "quiet";
  strike.textContent = lap.out ? "Count it" : "Strike out";
  strike.setAttribute("aria-label", `${strike.textContent}: round ${n + 1}, ${lap.text} seconds`);
  strike.addEventListener("click", () => {
    lap.out = !lap.out;
    write();
    keep();
    show();
    list.children[n].querySelector("button").focus();
  });
  item.append(text, strike);
  if (lap.why) item.append(` ${lap.why}`);
  return item;
}

function tick() {
  if (state.started) time.textContent = (Math.max(performance.timeOrigin + performance.now() - state.started, 0) / 1000).toFixed(1);
  requestAnimationFrame(tick);
}

async function wake() {
  try {
    if (state.started && !awake) awake = await navigator.wakeLock?.request("screen");
    if (!state.started && awake) { await awake.release(); awake = null; }
  } catch { awake = null; /* a screen that may not be kept awake */ }
}

// a press counts when it begins, not when the finger is lifted; whoever has no pointer and no key (a screen reader) clicks
let byPointer = false;
button.addEventListener("pointerdown", (event) => {
  if (!event.isPrimary || event.button) return;
  byPointer = true;
  toggle(now(event));
});
button.addEventListener("click", (event) => {
  if (event.detail && byPointer) { byPointer = false; return; }
  toggle(now(event));
});
button.addEventListener("contextmenu", (event) => event.preventDefault());
const typing = (target) => target !== button && target.closest("input, textarea, select, button, a, summary, label");
document.addEventListener("keydown", (event) => {
  if (event.code !== "Space" || typing(event.target)) return;
  event.preventDefault();
  if (!event.repeat && !event.ctrlKey && !event.altKey && !event.metaKey) toggle(now(event));
});
document.addEventListener("keyup", (event) => { if (event.code === "Space" && !typing(event.target)) event.preventDefault(); });
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  awake = null;
  wake();
});

field.addEventListener("input", () => {
  state.laps = field.value.split(",").map((each) => each.trim()).filter(Boolean).map((text) => ({ text, out: false, why: "" }));
  keep();
  show();
});
form.addEventListener("input", (event) => { if (event.target !== field) keep(); });
form.addEventListener("submit", () => { state.sent = true; keep(); });

const earlier = kept();
if (earlier?.sent && document.querySelector("[data-written]")) {
  localStorage.removeItem(KEY);
} else if (earlier) {
  state = { ...state, ...earlier, sent: false };
  const ran = Date.now() - state.wall; // the clock of the events begins anew with each page
  state.started = state.started && ran >= 0 && ran < LONGEST_MS ? performance.timeOrigin + performance.now() - ran : 0;
  if (!form.querySelector(".wrong")) {
    for (const name of KEPT) if (state.fields[name]) form.elements[name].value = state.fields[name];
    for (const each of form.querySelectorAll("[name=state]")) each.checked = (state.states || []).includes(each.value);
  }
  if (state.laps.length) write();
}
if (document.querySelector("[data-written]")) { // once told it is not told again
  const here = new URL(location.href);
  here.searchParams.delete("written");
  history.replaceState(null, "", here);
}
box.hidden = false;
show();
tick();
wake();
