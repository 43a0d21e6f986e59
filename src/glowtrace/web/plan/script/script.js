// The script of the shot list that the address tells; one shot at a time is bright.

const main = document.getElementById("shots");
const sections = [];
let now = 0;
let letters = 7;

function part(tag, css, text) {
  const element = document.createElement(tag);
  element.className = css;
  element.textContent = text;
  return element;
}

function show(number) {
  now = Math.max(0, Math.min(sections.length - 1, number));
  sections.forEach((section, n) => section.classList.toggle("is-now", n === now));
  sections[now]?.scrollIntoView({ block: "start" });
}

function step(by) {
  // A shot that is longer than the window is scrolled before the next one comes.
  const box = sections[now]?.getBoundingClientRect();
  if (!box) return;
  const hidden = by > 0 ? box.bottom - innerHeight : -box.top;
  if (hidden > 8) scrollBy(0, by * Math.min(hidden, 0.8 * innerHeight));
  else show(now + by);
}

function enlarge(by) {
  letters = Math.max(3, Math.min(16, letters + by));
  document.documentElement.style.setProperty("--letters", `${letters}vmin`);
  show(now);
}

const keys = {
  " ": () => step(1), ArrowDown: () => step(1), ArrowRight: () => show(now + 1),
  PageDown: () => show(now + 1), Enter: () => show(now + 1),
  ArrowUp: () => step(-1), ArrowLeft: () => show(now - 1), PageUp: () => show(now - 1),
  Home: () => show(0), End: () => show(sections.length - 1),
  "+": () => enlarge(1), "=": () => enlarge(1), "-": () => enlarge(-1),
  f: () => (document.fullscreenElement
    ? document.exitFullscreen() : document.documentElement.requestFullscreen()),
};

addEventListener("keydown", (event) => {
  const act = keys[event.key] ?? keys[event.key.toLowerCase()];
  if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  act();
});

async function load() {
  const answer = await fetch(`/glowtrace-script.json${location.search}`);
  if (!answer.ok) throw new Error(await answer.text());
  const shots = await answer.json();
  main.replaceChildren();
  for (const shot of shots) {
    const section = document.createElement("section");
    section.append(
      part("h2", "", `${shot.number} · ${shot.hold} s · ${shot.do}`),
      part("p", "say", shot.say || "…"),
      part("p", "knobs", shot.knobs.join(" · ")),
    );
    if (shot.mind) section.append(part("p", "mind", shot.mind));
    section.addEventListener("click", () => show(sections.indexOf(section)));
    sections.push(section);
    main.append(section);
  }
  show(0);
}

load().catch((error) => {
  document.getElementById("waiting").textContent = String(error.message);
});
