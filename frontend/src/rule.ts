/** The rule lies so that where you are is in its middle. */

import { all, one } from "./dom";

export function layRule(): void {
  const body = one(".rule-body");
  const here = one(".graduation.here", body ?? document) ?? one(".run.now", body ?? document);
  if (!body || !here) return;
  const at = here.getBoundingClientRect();
  const frame = body.getBoundingClientRect();
  if (matchMedia("(min-width: 1000px)").matches) body.scrollTop += at.top - frame.top - frame.height / 2;
  else body.scrollLeft += at.left - frame.left - frame.width / 2;
}

/** Colours a graduation at once, before the bench has answered. */
export function markRule(step: string, done: boolean): void {
  for (const each of all(`.graduation[data-step="${CSS.escape(step)}"], .order-step[data-step="${CSS.escape(step)}"]`)) {
    each.classList.toggle("done", done);
  }
}
