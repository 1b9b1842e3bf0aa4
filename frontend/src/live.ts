/** What happens elsewhere: other devices, an edited machine, pictures that have just been drawn. */

import { fact, one } from "./dom";
import { forget, go, renew } from "./pages";
import { send } from "./queue";
import { tell } from "./saying";

let source: EventSource | null = null;
let timer: number | undefined;

/** Listens while the page is seen. */
export function listen(): void {
  const begin = (): void => {
    if (source || document.visibilityState !== "visible") return;
    source = new EventSource(`/changes?after=${Number(fact("seq")) || 0}`);
    source.onopen = () => void send();
    source.addEventListener("log", () => {
      forget();
      soon();
    });
    source.addEventListener("machine", () => {
      forget();
      void followMachine();
    });
    source.addEventListener("pictures", () => {
      forget();
      if (one("[data-needs]")) soon();
    });
    source.onerror = () => {
      // The browser tries again by itself unless it was told not to.
      if (source?.readyState === EventSource.CLOSED) {
        source = null;
        setTimeout(begin, 5000);
      }
    };
  };
  const end = (): void => {
    source?.close();
    source = null;
  };
  document.addEventListener("visibilitychange", () => (document.visibilityState === "visible" ? begin() : end()));
  window.addEventListener("pagehide", end);
  begin();
}

/** The machine was edited, or more of it is computed. A page that could not be shown before is asked for again. */
async function followMachine(): Promise<void> {
  const before = fact("version");
  if (one(".failed-number")) {
    await go(location.href, true);
    return;
  }
  await renew();
  if (before && fact("version") !== before) tell("The machine folder was edited; this page follows it.");
}

function soon(): void {
  window.clearTimeout(timer);
  timer = window.setTimeout(() => void renew(), 150);
}
