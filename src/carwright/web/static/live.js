// Live updates: when somebody else writes about what this page shows, it is brought up to date, never under a hand.
import { show } from "./swap.js";

const PARTS = { bench: ["#live", "#drawing", "#head"], cars: ["#cars"] };

export function startLive() {
  const bench = document.getElementById("bench");
  const cars = document.getElementById("cars");
  if (!("EventSource" in window) || (!bench && !cars)) return;
  const about = bench ? `?car=${bench.dataset.car}` : "";
  let source = null;
  const open = () => {
    source?.close();
    source = new EventSource(`/api/changes${about}`);
    source.addEventListener("changed", () => show(location.href, bench ? PARTS.bench : PARTS.cars).catch(() => {}));
  };
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") open();
    else source?.close();
  });
  window.addEventListener("pagehide", () => source?.close());
  window.addEventListener("pageshow", (event) => event.persisted && open());
  open();
}
