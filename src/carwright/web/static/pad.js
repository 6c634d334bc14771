// The pad: keys under the thumb, steps, and touching the drawing without loading the page anew.
import { exchange, show } from "./swap.js";

const BENCH = ["#bench", "#notice"];

export function startPad() {
  document.addEventListener("click", onClick);
  document.addEventListener("submit", onSubmit);
  document.addEventListener("input", onInput);
  document.addEventListener("change", onChange);
  document.addEventListener("keydown", onKey);
  document.addEventListener("carwright:shown", ready);
  window.addEventListener("popstate", () => {
    if (document.getElementById("bench")) show(location.href, BENCH).catch(() => location.reload());
  });
  ready();
}

/** Thumbs get our keys instead of the system's, which would cover the drawing. */
function ready() {
  if (!document.getElementById("bench")) document.querySelector("main .wrong-all, main .box[role=status]")?.scrollIntoView({ block: "center" });
  const keys = document.getElementById("keys");
  const value = document.getElementById("value");
  if (keys && value && matchMedia("(pointer: coarse)").matches) {
    keys.hidden = false;
    value.inputMode = "none";
  }
  document.querySelector(".chip-link[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  for (const link of document.querySelectorAll(".scroll")) {
    const chosen = link.querySelector("[aria-current]");
    if (chosen) link.scrollLeft = chosen.offsetLeft - link.clientWidth / 2 + chosen.clientWidth / 2;
  }
}

async function onClick(event) {
  const step = event.target.closest?.("[data-step]");
  if (step) return move(Number(step.dataset.step));
  const key = event.target.closest?.("[data-key]");
  if (key) return press(key.dataset.key);
  const link = event.target.closest?.("#bench a[href], svg.touch a");
  if (!link || event.metaKey || event.ctrlKey || event.shiftKey || event.button > 0) return;
  const href = link.getAttribute("href");
  if (!href.startsWith("/car/") || new URL(href, location.href).pathname !== location.pathname) return;
  event.preventDefault();
  const drawn = Boolean(link.closest("svg"));
  const before = document.getElementById("value")?.value || "";
  try {
    await show(href, BENCH, { push: true, late: () => typedSince(before) });
    reach(drawn);
  } catch {
    location.href = href;
  }
}

/** What a quick thumb typed while the next place was on its way belongs to the next place. */
function typedSince(before) {
  const typed = document.getElementById("value")?.value || "";
  return typed !== before ? typed.slice(typed.startsWith(before) ? before.length : 0) : "";
}

/** Bring the keys above the bar at the foot, and no farther; else the pad into sight. */
function reach(drawn) {
  const keys = document.getElementById("keys");
  const bar = document.querySelector("nav.of-car");
  const foot = bar && getComputedStyle(bar).position === "fixed" ? bar.getBoundingClientRect().top : innerHeight;
  const pad = document.getElementById("pad").getBoundingClientRect();
  if (keys && !keys.hidden) {
    const below = keys.getBoundingClientRect().bottom + 4 - foot;
    if (below > 0) scrollBy(0, below);
    else if (pad.top < 0) scrollBy(0, Math.max(pad.top, below));
  } else if (!drawn && (pad.top < 0 || pad.top > innerHeight - 200)) document.getElementById("drawing").scrollIntoView();
}

function move(by) {
  const field = document.getElementById("value");
  const from = Number(field.value || field.dataset.last || 0);
  if (!Number.isFinite(from)) return;
  const digits = (String(Math.abs(by)).split(".")[1] || "").length;
  set((from + by).toFixed(Math.max(digits, (field.dataset.last.split(".")[1] || "").length)));
}

function press(key) {
  document.getElementById("notice").replaceChildren(); // what was done before is in the history, with its undo
  const field = document.getElementById("value");
  const text = field.value;
  if (key === "back") set(text.slice(0, -1));
  else if (key === "clear") set("");
  else if (key === ";") set(text && !text.trim().endsWith(";") ? `${text}; ` : text);
  else set(text + key);
}

function set(text) {
  const field = document.getElementById("value");
  field.value = text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function onChange(event) {
  const field = document.getElementById("value");
  if (field?.value && event.target.closest?.("#entry") && event.target !== field) ask(field);
  if (event.target.id === "f-what" && document.querySelector("[data-grade]")) {
    const form = event.target.form;
    const address = new URL(location.href);
    address.searchParams.set("do", "look");
    for (const name of ["what", "at", "spot"]) if (form.elements[name]) address.searchParams.set(name, form.elements[name].value);
    show(address.href, [".grades"]).catch(() => {});
  }
}

function onInput(event) {
  if (event.target.id !== "value") return;
  clearTimeout(pause);
  pause = setTimeout(() => ask(event.target), 140);
}

let pause = 0;
let asking = null;

/** What the value would come to, before it is saved; an older question is given up for a newer one. */
async function ask(field) {
  asking?.abort();
  asking = new AbortController();
  const data = new FormData(field.form);
  const query = new URLSearchParams();
  for (const name of ["what", "at", "value", "unit", "with", "state"]) query.set(name, data.get(name) || "");
  try {
    const answer = await fetch(`${field.dataset.would}?${query}`, { signal: asking.signal, credentials: "same-origin" });
    const text = await answer.text();
    const would = document.getElementById("would");
    if (answer.ok && would && field.isConnected) would.innerHTML = text;
  } catch (error) {
    if (error.name !== "AbortError") console.info("no answer:", error.message);
  }
}

/** Arrow keys step the value; Escape gives up what was typed. */
function onKey(event) {
  if (event.target.id !== "value") return;
  const step = document.querySelector("[data-step]:not([data-step^='-'])");
  if (event.key === "ArrowUp" || event.key === "ArrowDown") {
    event.preventDefault();
    move((event.key === "ArrowUp" ? 1 : -1) * Number(step.dataset.step) * (event.shiftKey ? 10 : 1));
  } else if (event.key === "Escape") set("");
}

/** Saving exchanges the bench; where the shop cannot be reached the queue takes the reading. */
async function onSubmit(event) {
  const form = event.target;
  if (event.defaultPrevented || !form.closest("#bench, #notice") || !document.getElementById("bench")) return;
  event.preventDefault();
  const data = new FormData(form, event.submitter);
  const busy = [...form.querySelectorAll("button")];
  for (const button of busy) button.disabled = true;
  const upload = form.enctype === "multipart/form-data";
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      body: upload ? data : new URLSearchParams(data),
      headers: { "x-carwright-token": document.querySelector("meta[name=carwright-token]").content },
      credentials: "same-origin",
    });
    const text = await answer.text();
    if (answer.ok || answer.status === 422) {
      exchange(text, BENCH);
      if (answer.redirected) history.replaceState({}, "", answer.url);
      const wrong = document.querySelector("#bench .wrong-all, #bench [aria-invalid]:not(#value)");
      if (answer.status === 422 && wrong) wrong.scrollIntoView({ block: "center" });
    } else {
      tell(new DOMParser().parseFromString(text, "text/html").querySelector("main p")?.textContent || `The shop answered ${answer.status}.`);
    }
  } catch {
    document.dispatchEvent(new CustomEvent("carwright:offline", { detail: { form, data } }));
  } finally {
    for (const button of busy) button.disabled = false;
  }
}

function tell(sentence) {
  const notice = document.getElementById("notice");
  const box = document.createElement("div");
  box.className = "notice";
  box.textContent = sentence;
  notice.replaceChildren(box);
}
