// Presses buttons without a new page, one after another, and keeps the meters' figures fresh.
// Nothing is kept here: every press goes to the box and its answer is what is shown.

const LOOK_MS = 1000;
let waiting = Promise.resolve();

function press(form, button) {
  const place = [...document.querySelectorAll("main form")].indexOf(form);
  const name = button?.name ?? "";
  const value = button?.value ?? "";
  const typed = new FormData(form);
  waiting = waiting.then(() => send(place, typed, name, value)).catch(() => location.reload());
}

async function send(place, typed, name, value) {
  const body = new URLSearchParams(typed);
  if (name) body.set(name, value);
  body.set("turn", document.querySelector("main").dataset.turn);
  const answer = await fetch("/fit", { method: "POST", body, credentials: "same-origin" });
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const main = fresh.querySelector("main[data-turn]");
  if (!main) {
    location.assign(answer.url);
    return;
  }
  const moved = fresh.title !== document.title;
  const open = document.querySelector("main details[open]") && !moved;
  document.querySelector("main").replaceWith(main);
  document.body.dataset.fit = fresh.body.dataset.fit;
  document.title = fresh.title;
  history.replaceState(null, "", answer.url);
  if (open) main.querySelector("details")?.setAttribute("open", "");
  const again = [...document.querySelectorAll("main form")][place];
  const twin = [...(again?.querySelectorAll("button") ?? [])].find(
    (one) => one.name === name && one.value === value && !one.classList.contains("unseen"),
  );
  if (twin) twin.focus({ preventScroll: true });
  if (!twin || main.querySelector("[role=alert]")) scrollTo(0, 0);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.closest("main") || form.method !== "post") return;
  event.preventDefault();
  press(form, event.submitter);
});

document.addEventListener("keydown", (event) => {
  if (event.key !== " " && event.key !== "AudioVolumeUp") return;
  if (event.target.closest("input, select, summary, a")) return;
  const drop = document.querySelector("[data-drop]");
  if (!drop) return;
  const other = event.target.closest("button");
  if (event.key === " " && other && other !== drop) return;
  event.preventDefault();
  if (!event.repeat) press(drop.form, drop);
});
// a button is pressed when the space bar comes up: here it was pressed when it went down
document.addEventListener("keyup", (event) => {
  if (event.key === " " && event.target.closest("[data-drop]")) event.preventDefault();
});

async function look() {
  const places = [...document.querySelectorAll("[data-live-fit]")];
  if (places.length && !document.hidden) {
    try {
      const answer = await fetch(document.body.dataset.fit, { credentials: "same-origin" });
      if (answer.ok) {
        const told = await answer.json();
        for (const place of places) {
          const text = told.t[place.dataset.liveFit];
          if (text !== undefined && text !== place.textContent) place.textContent = text;
        }
      }
    } catch {
      // the next look asks again
    }
  }
  setTimeout(look, LOOK_MS);
}
look();
