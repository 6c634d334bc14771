// Swapping the bench without losing the place: a page is fetched, and the part of it that is shown is taken.

let turn = 0;

/** Show an address of this page's kind within the page; parts named by selectors are exchanged. */
export async function show(address, parts, { push = false, late = () => "" } = {}) {
  const mine = push ? ++turn : turn;
  const answer = await fetch(address, { headers: { "x-requested-with": "carwright" }, credentials: "same-origin" });
  if (!answer.ok) throw new Error(`the shop answered ${answer.status}`);
  const text = await answer.text();
  if (push && mine !== turn) return answer; // a later touch was answered first
  const typed = late();
  exchange(text, parts);
  const field = document.getElementById("value");
  if (typed && field) {
    field.value = typed;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
  if (push) history.pushState({}, "", answer.url);
  return answer;
}

/** Exchange parts of this page by those of another; what has the focus gets it again. */
export function exchange(text, parts) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const focused = document.activeElement?.id;
  for (const part of parts) {
    const fresh = page.querySelector(part);
    const old = document.querySelector(part);
    if (fresh && old) {
      old.replaceWith(document.importNode(fresh, true));
      window.htmx?.process(document.querySelector(part));
    }
  }
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  document.dispatchEvent(new CustomEvent("carwright:shown"));
}
