// Keeps answers as soon as a field is left, so that a page that is closed loses nothing. Without it each page is kept when it is sent.
const form = document.querySelector("form.interview");
const told = form.querySelector(".kept");
let last = Promise.resolve();

async function keep() {
  const body = new URLSearchParams(new FormData(form));
  body.set("go", "keep");
  const reply = await fetch(form.action, { method: "POST", body });
  if (reply.ok) form.elements.seen.value = await reply.text();
  told.textContent = reply.ok ? "Kept." : "Not kept: it was changed meanwhile, or the desk cannot write here.";
}

form.addEventListener("change", () => {
  last = last.then(keep).catch(() => { told.textContent = "Not kept: the desk does not answer."; });
});
