/** Short words at the lower edge: what was kept, with a way back; and the line that says what still waits. */

import { all, make, one } from "./dom";
import type { Waiting } from "./waiting";

const SHOWN_MS = 9000;

export interface Way {
  word: string;
  act: () => void;
}

/** Shows words for a while; the next ones take their place. */
export function tell(words: string, ...ways: Way[]): void {
  const place = one("#saying");
  if (!place) return;
  const line = make("div", {}, make("span", {}, words));
  for (const way of ways) {
    const button = make("button", { type: "button" }, way.word);
    button.addEventListener("click", () => {
      line.remove();
      way.act();
    });
    line.append(button);
  }
  place.append(line);
  for (const old of [...place.children].slice(0, -1)) old.remove();
  setTimeout(() => line.remove(), SHOWN_MS);
}

/** "3 waiting": shown only after a moment, so that a bench that answers at once never flickers. */
export function showWaiting(rows: readonly Waiting[], trouble: string): void {
  const line = one("#waiting");
  if (!line) return;
  const refused = rows.filter((row) => row.refused);
  const count = rows.length;
  line.dataset.count = String(count);
  window.clearTimeout(Number(line.dataset.timer));
  const show = (): void => {
    line.hidden = !count;
    if (!count) return;
    const words = refused.length
      ? `${refused.length} not taken: ${refused[0]!.refused}`
      : trouble || `${count} waiting. Kept on this device until the bench answers; go on working.`;
    line.replaceChildren(make("span", {}, words));
    if (refused.length) line.append(make("button", { type: "button", class: "button plain quiet-button", "data-give-up": "" }, "Leave it out"));
  };
  if (count && line.hidden) line.dataset.timer = String(window.setTimeout(show, 700));
  else show();
  for (const each of all("[data-waiting-count]")) each.textContent = count ? String(count) : "";
}
