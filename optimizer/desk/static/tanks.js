// Fills the cards of the first page one after the other, those that can be seen first.
const AGAIN_MS = 1000;

function inView(card) {
  const box = card.getBoundingClientRect();
  return box.bottom > 0 && box.top < innerHeight;
}

async function fill(card) {
  for (;;) {
    const reply = await fetch(card.dataset.glance);
    if (reply.status !== 204) {
      card.innerHTML = reply.ok ? await reply.text() : `<p class="wrong">Not to be had now: load the page again.</p>`;
      return;
    }
    await new Promise((later) => setTimeout(later, AGAIN_MS));
  }
}

const waiting = new Set(document.querySelectorAll("[data-glance]"));
for (const card of waiting) card.setAttribute("aria-busy", "true");
while (waiting.size) {
  const cards = [...waiting];
  const card = cards.find(inView) ?? cards[0];
  waiting.delete(card);
  try {
    await fill(card);
  } catch {
    break; // the page is left, or the desk is closed
  }
  card.removeAttribute("aria-busy");
}
