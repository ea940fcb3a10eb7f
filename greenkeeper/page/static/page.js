// What the page gains where scripts run: it keeps itself fresh, says so when it cannot,
// and a picture can be read with a finger. Without it nothing is missing that matters.
"use strict";

const EVERY_MS = 15000;

function old(words) {
  const note = document.querySelector(".old");
  if (note === null) return;
  note.textContent = words;
  note.classList.add("shown");
}

// The head of the page, fetched anew. A failure is said at once: an old page must not pass
// for a house that is well.
async function renew() {
  const here = document.getElementById("now");
  if (here === null || document.hidden) return;
  const asked = new Date();
  try {
    const answer = await fetch("/", { cache: "no-store" });
    if (!answer.ok) throw new Error(String(answer.status));
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("now");
    if (next === null) throw new Error("no head");
    next.querySelector(".head").classList.add("fresh");
    here.replaceWith(next);
    document.title = page.title;
  } catch {
    const time = asked.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    old(`No answer from the shed since ${time}: what stands here is old.`);
  }
}

function read(event) {
  const place = event.target.closest(".reading");
  if (place === null) return;
  const figure = place.closest("figure");
  figure.querySelectorAll(".read").forEach((each) => each.classList.remove("read"));
  place.classList.add("read");
  figure.querySelector(".points").textContent = place.querySelector("title").textContent;
}

if (document.getElementById("now") !== null) {
  document.querySelector(".head").classList.add("fresh");
  setInterval(renew, EVERY_MS);
  document.addEventListener("visibilitychange", renew);
}
if (document.getElementById("working") !== null) {
  setTimeout(() => location.reload(), 3000);
}
document.addEventListener("pointermove", read);
document.addEventListener("pointerdown", read);
