// Readings taken while the shop cannot be reached: kept on this device, sent when it can, and never twice.
import { show } from "./swap.js";

const PLACE = "carwright-queue";
const TEXTS = new Set(["token", "spot", "again", "do"]);

export function startQueue() {
  document.addEventListener("carwright:offline", (event) => take(event.detail));
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  window.addEventListener("storage", (event) => event.key === PLACE && tell());
  setInterval(() => waiting().some((each) => !each.refused) && send(), 7000);
  tell();
  send();
}

function waiting() {
  try {
    return JSON.parse(localStorage.getItem(PLACE) || "[]");
  } catch {
    return [];
  }
}

function keep(list) {
  localStorage.setItem(PLACE, JSON.stringify(list));
  tell();
}

function now() {
  const date = new Date();
  const minutes = -date.getTimezoneOffset();
  const two = (number) => String(Math.trunc(Math.abs(number))).padStart(2, "0");
  const local = new Date(date.getTime() + minutes * 60000).toISOString().slice(0, 19);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

/** A number no other entry has; where the page is plain http the browser gives none, so it is made of random bytes. */
function identity() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function take({ form, data }) {
  const car = form.dataset.queue;
  if (!car) return say("The shop cannot be reached; this cannot be done without it.");
  if (form.enctype === "multipart/form-data") return say("The shop cannot be reached; take the photo again when it can.");
  const typed = {};
  for (const [name, value] of data) if (!TEXTS.has(name) && value) typed[name] = value;
  if (data.get("do") === "measure" && !typed.value) return say("Type a value first.");
  keep([...waiting(), { id: identity(), when: now(), car, doing: data.get("do"), typed, title: document.querySelector("h1")?.textContent || "" }]);
  const value = document.getElementById("value");
  if (value) value.value = "";
  const would = document.getElementById("would");
  const said = [typed.what || data.get("do"), typed.at, typed.value, typed.value && typed.unit].filter(Boolean).join(" ");
  if (would) would.textContent = `Kept on this device: ${said}. It is sent when the shop can be reached.`;
  if (!data.has("again")) onward(form);
}

/** The next place of the same kind, as the shop would choose it, without asking the shop. */
function onward(form) {
  const places = document.querySelector('.strip-of[aria-label="Place"]');
  const here = places?.querySelector("[aria-current]");
  const next = here?.nextElementSibling;
  if (!next) return;
  here.removeAttribute("aria-current");
  next.setAttribute("aria-current", "true");
  form.elements.at.value = new URL(next.href).searchParams.get("at") || "";
  const label = document.querySelector('label[for="value"]');
  const name = next.textContent.replace(/[^\p{L}\p{N} ].*?(?=axle)|,.*$/gu, "").trim();
  if (label) label.textContent = `${label.textContent.split(",")[0]}, ${name}`;
}

let sending = false;

/** Send what waits, oldest first; an entry the shop refuses stays, with what it said. */
async function send() {
  if (sending || !waiting().length) return;
  sending = true;
  let changed = false;
  try {
    for (const each of waiting().filter((one) => !one.refused)) {
      const answer = await fetch(`/api/cars/${each.car}/typed`, {
        method: "POST",
        headers: { "content-type": "application/json", "x-carwright-token": await token() },
        credentials: "same-origin",
        body: JSON.stringify({ id: each.id, when: each.when, doing: each.doing, typed: each.typed }),
      });
      if (answer.ok) {
        keep(waiting().filter((one) => one.id !== each.id));
        changed = true;
      } else if ([400, 404, 409, 413, 422].includes(answer.status)) {
        const said = (await answer.json()).error;
        keep(waiting().map((one) => (one.id === each.id ? { ...one, refused: said.faults.map((fault) => fault.sentence).join("; ") || said.sentence } : one)));
      } else break;
    }
  } catch (error) {
    console.info("the shop cannot be reached:", error.message);
  } finally {
    sending = false;
  }
  if (changed && document.getElementById("bench")) show(location.href, ["#live", "#drawing", "#head"]).catch(() => {});
}

/** The token of this session; the shop may have been started again since the page was loaded. */
async function token() {
  const answer = await fetch("/api/token", { credentials: "same-origin" });
  if (!answer.ok) throw new Error(`the shop answered ${answer.status}`);
  return (await answer.json()).token;
}

function tell() {
  const box = document.getElementById("waiting");
  const list = waiting();
  box.hidden = !list.length;
  box.replaceChildren();
  if (!list.length) return;
  const refused = list.filter((each) => each.refused);
  const words = document.createElement("span");
  const count = list.length - refused.length;
  words.textContent = count ? `${count} ${count === 1 ? "entry waits" : "entries wait"} on this device to be sent.` : "";
  box.append(words);
  if (count) box.append(button("Send now", send));
  for (const each of refused) {
    const told = document.createElement("span");
    told.textContent = `Not taken: ${each.typed.what || each.doing} ${each.typed.at || ""} ${each.typed.value || ""} of ${each.title}: ${each.refused}`;
    box.append(told, button("Give it up", () => keep(waiting().filter((one) => one.id !== each.id))));
  }
}

function button(words, does) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", does);
  return made;
}

function say(sentence) {
  const notice = document.getElementById("notice");
  const box = document.createElement("div");
  box.className = "notice";
  box.textContent = sentence;
  notice.replaceChildren(box);
}
