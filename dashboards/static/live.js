// Keeps an open page true: live figures by server-sent events, the rest fetched anew when its
// version changes. Without it the page is whole and has a link to read it again.

const REFETCH_MS = 5000; // a page is not fetched more often than this
const SPEAK_MS = 60000; // a screen reader hears the headline at most once a minute
const LOST_MS = 5000; // without word for this long the page says that it is not live

const body = document.body;
const link = document.querySelector("[data-link]");
let version = body.dataset.version;
let fetchedAt = 0;
let spoken = sentence();
let spokenAt = -SPEAK_MS;
let heardAt = performance.now();
let busy = false;

function show(message) {
  heardAt = performance.now();
  if (message.trouble) {
    mark(false);
    return;
  }
  mark(true);
  const old = new Set(message.old);
  for (const place of document.querySelectorAll("[data-live]")) {
    const text = message.t[place.dataset.live];
    if (text !== undefined && place.textContent !== text) place.textContent = text;
    if (place.classList.contains("age")) place.classList.toggle("old", old.has(place.dataset.live));
  }
  if (message.v !== version) refetch();
  speak();
}

function mark(live) {
  const word = live ? link.dataset.liveWord : link.dataset.lostWord;
  if (link.textContent !== word) link.textContent = word;
  link.classList.toggle("lost", !live);
}

async function refetch() {
  if (busy || performance.now() - fetchedAt < REFETCH_MS) return;
  busy = true;
  fetchedAt = performance.now();
  try {
    const answer = await fetch(location.href, { credentials: "same-origin" });
    if (answer.ok) take(new DOMParser().parseFromString(await answer.text(), "text/html"));
  } catch {
    mark(false); // the stream comes back by itself and asks again
  }
  busy = false;
}

function take(fresh) {
  const parts = [...document.querySelectorAll("[data-part]")];
  const names = parts.map((part) => part.dataset.part).join();
  const freshParts = [...fresh.querySelectorAll("[data-part]")];
  if (names !== freshParts.map((part) => part.dataset.part).join()) {
    document.querySelector("main").replaceWith(fresh.querySelector("main"));
  } else {
    parts.forEach((part, n) => {
      if (part.innerHTML !== freshParts[n].innerHTML) part.innerHTML = freshParts[n].innerHTML;
    });
  }
  version = fresh.body.dataset.version;
  document.title = fresh.title;
}

function sentence() {
  const then = document.querySelector(".then")?.textContent ?? "";
  return `${document.querySelector("h1")?.textContent ?? ""} ${then}`.replace(/\s+/g, " ").trim();
}

function speak() {
  const now = performance.now();
  if (sentence() === spoken || now - spokenAt < SPEAK_MS) return;
  spoken = sentence();
  spokenAt = now;
  const place = document.querySelector("[data-spoken]");
  if (place) place.textContent = spoken;
}

if (body.dataset.stream) {
  const stream = new EventSource(body.dataset.stream);
  stream.onmessage = (event) => show(JSON.parse(event.data));
  stream.onerror = () => mark(false);
  setInterval(() => {
    if (performance.now() - heardAt > LOST_MS) mark(false);
  }, 1000);
}
