/** The bench's pages: everything is listened to once, at the document; pages come and go under it. */

import { followCapture } from "./capture";
import { followCounts, overlayCounts } from "./count";
import { followDiffer } from "./differ";
import { all, fact, kept, one, stepHere } from "./dom";
import { followDone } from "./done";
import { followKeys } from "./keys";
import { countLaid, followTicks, overlayTicks } from "./lay";
import { listen } from "./live";
import { followMarks, showClock } from "./marks";
import { followLinks, forget, onPage, preloadNeighbours, seqShown, waitFor } from "./pages";
import { followPicture, livePicture } from "./picture";
import { beginSending, giveUp, onArrived, onWaiting, say, send, waiting, waitingNow, type Arrived } from "./queue";
import { drawScales, followReadings, overlayReadings } from "./reading";
import { layRule, markRule } from "./rule";
import { showWaiting, tell } from "./saying";
import { followForms } from "./forms";
import { followSheets } from "./sheets";
import { followSigning } from "./signing";
import { followTune } from "./tune";
import { askAtStep, followTrue, shapeForms } from "./true";
import { beginWake, keepAwake } from "./wake";
import type { Waiting } from "./waiting";

let opened = "";
/** What this device has said and the log has, but the page shown was made before. */
let recent: Arrived[] = [];

function overlay(waits: readonly Waiting[]): void {
  recent = recent.filter(({ seq }) => seq > seqShown());
  const rows: Waiting[] = [...recent.map(({ event }) => ({ event, arrived: true })), ...waits];
  overlayTicks(rows);
  overlayReadings(rows);
  overlayCounts(rows);
  for (const { event } of rows) {
    if (event.step && event.kind === "done") markRule(event.step, true);
    if (event.step && event.kind === "reopened") markRule(event.step, false);
  }
}

/** After a page has come, or a part of it was renewed. */
async function page(fresh: boolean): Promise<void> {
  overlay(waitingNow()); // at once, so that no tick is seen to go and come
  layRule();
  countLaid();
  drawScales();
  shapeForms();
  void askAtStep();
  showClock();
  void livePicture();
  preloadNeighbours();
  if (fresh) {
    void keepAwake();
    const step = stepHere();
    // Work on a step begins when its page is opened, once a visit, and only where it may be written down.
    if (step && step !== opened && one("#page")?.dataset.writes === "yes") {
      opened = step;
      void say("opened", { step });
    }
    if (!step) opened = "";
  }
  overlay(await waiting());
}

/** The 3D view is fetched only when somebody asks for it. */
function followView(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLButtonElement>("[data-view]");
    if (!button) return;
    button.setAttribute("aria-busy", "true");
    import("./view/view")
      .then((view) => view.toggle(button))
      .catch((error: unknown) => tell(error instanceof Error && error.message ? error.message : "The view in 3D could not be shown."))
      .finally(() => button.removeAttribute("aria-busy"));
  });
}

/** What the bench has refused waits until somebody has seen why. */
function followRefused(): void {
  document.addEventListener("click", (event) => {
    if ((event.target as Element).closest("[data-give-up]")) void giveUp();
  });
}

function followLook(): void {
  document.addEventListener("click", (event) => {
    if (!(event.target as Element).closest("[data-look-switch]")) return;
    const dark = document.documentElement.dataset.look
      ? document.documentElement.dataset.look === "dark"
      : matchMedia("(prefers-color-scheme: dark)").matches;
    document.documentElement.dataset.look = dark ? "light" : "dark";
    kept.write("look", dark ? "light" : "dark");
    document.dispatchEvent(new CustomEvent("look-changed"));
  });
}

function begin(): void {
  followTicks();
  followReadings();
  followTrue();
  followDone();
  followDiffer();
  followMarks();
  followTune();
  followCapture();
  followCounts();
  followForms();
  followSheets();
  followSigning();
  followPicture();
  followView();
  followLook();
  followRefused();
  followKeys();
  followLinks();
  beginWake();
  onPage((fresh) => void page(fresh));
  onWaiting((rows, trouble) => {
    showWaiting(rows, trouble);
    overlay(rows);
  });
  onArrived((rows) => {
    recent.push(...rows);
    forget();
  });
  waitFor(send);
  document.addEventListener("bench-away", () => tell("The bench does not answer. This page goes on working; what you say is kept on this device."));
  void page(true);
  // A device that has not joined has no token, and nothing to say or hear.
  if (fact("token")) {
    beginSending();
    listen();
  }
  if ("serviceWorker" in navigator && window.isSecureContext) {
    void navigator.serviceWorker.register("/worker.js", { scope: "/" }).catch(() => undefined);
  }
  for (const old of all("[data-needs-script]")) old.hidden = false;
  document.documentElement.dataset.ready = "yes";
}

begin();
