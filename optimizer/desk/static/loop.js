// Opens, sends and closes the form of a place where it stands: the page that comes back takes the place of this one's middle.
const live = () => document.getElementById("loop");

async function taken(response, address) {
  const text = await response.text();
  const next = new DOMParser().parseFromString(text, "text/html").getElementById("loop");
  if (!next) { location.assign(address); return; }
  live().replaceWith(next);
  const form = next.querySelector("form.edit");
  const wrong = next.querySelector("form.edit [aria-invalid=true]");
  const at = new URL(address, location.href).hash.slice(1);
  const goal = wrong || (form && form.querySelector("h3")) || document.getElementById(at)?.querySelector("a");
  if (goal) { goal.focus({ preventScroll: true }); goal.scrollIntoView({ block: "nearest" }); }
}

async function asked(address, how) {
  live().setAttribute("aria-busy", "true");
  try {
    const response = await fetch(address, { ...how, headers: { "x-fullbore-in-place": "yes" } });
    const lands = new URL(response.url);
    if (!how) { lands.hash = new URL(address, location.href).hash; }
    else if (response.redirected) { lands.hash = `#at-${lands.searchParams.get("saved")}`; }
    await taken(response, lands.href);
    if (!how || response.redirected) { history.pushState(null, "", lands.href); }
  } catch {
    live().removeAttribute("aria-busy");
    if (!how) { location.assign(address); } else { return false; }
  }
  return true;
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-loop]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) { return; }
  event.preventDefault();
  asked(link.href);
});

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.matches("form.edit")) { return; }
  event.preventDefault();
  const sent = await asked(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  if (!sent) { form.submit(); }
});

addEventListener("popstate", () => location.reload());
