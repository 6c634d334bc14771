// What every page runs: the queue of readings, live updates, the pad, and the worker that keeps pages for offline use.
import { startQueue } from "./queue.js";
import { startLive } from "./live.js";
import { startPad } from "./pad.js";
import { startTicks } from "./ticks.js";

startPad();
startQueue();
startLive();
startTicks();

if ("serviceWorker" in navigator && window.isSecureContext) {
  navigator.serviceWorker.register("/worker.js").catch((error) => console.info("no offline pages:", error.message));
}
