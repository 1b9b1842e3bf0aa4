/** Clock marks for the film: by the large button, and at each change of step while a recording runs. */

import { all, kept, make, one, stepHere } from "./dom";
import { say, unsay } from "./queue";
import { tell } from "./saying";

/** When the recording's own counter stood at zero, in ms of this device's clock; null: none runs. */
function began(): number | null {
  const at = Number(kept.read("recording"));
  return at > 0 ? at : null;
}

/** "1:02:03" of seconds. */
export function clockWords(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const two = (value: number): string => String(value).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
}

async function mark(label: string, auto: boolean): Promise<string> {
  const at = began();
  const data: Record<string, unknown> = { auto };
  if (label) data.label = label;
  if (at !== null) data.clock = Math.round((Date.now() - at) / 10) / 100;
  return say("mark", { step: stepHere() || null, data });
}

/** The step has changed while a recording runs. */
export async function autoMark(): Promise<void> {
  if (began() !== null && stepHere()) await mark(one("#page")?.dataset.title ?? "", true);
}

export function followMarks(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-mark]");
    if (button) void byHand(button);
    const begin = (event.target as Element).closest<HTMLElement>("[data-recording]");
    if (begin) {
      const begins = begin.dataset.recording === "begin";
      if (begins) kept.write("recording", String(Date.now()));
      void mark(begins ? "recording begins" : "recording ends", true);
      if (!begins) kept.write("recording", "");
      showClock();
    }
  });
  setInterval(showClock, 500);
}

async function byHand(button: HTMLElement): Promise<void> {
  const label = one<HTMLInputElement>("#mark-label")?.value.trim() || button.dataset.mark || "";
  const id = await mark(label, false);
  button.classList.add("marked");
  setTimeout(() => button.classList.remove("marked"), 700);
  const list = one("#marks");
  const at = began();
  const said = at === null ? new Date().toLocaleTimeString([], { hourCycle: "h23" }) : clockWords((Date.now() - at) / 1000);
  if (list) list.prepend(make("li", {}, make("span", { class: "number" }, said), ` ${label || "mark"}`));
  tell(`Marked at ${said}.`, { word: "Undo", act: () => void unsay(id).then((gone) => (gone ? undefined : say("undo", { data: { of: id } }))) });
}

/** The counter on the film page and the state of its buttons. */
export function showClock(): void {
  const at = began();
  for (const place of all(".film-clock")) {
    const said = at === null ? "0:00" : clockWords((Date.now() - at) / 1000);
    if (place.textContent !== said) place.textContent = said;
  }
  for (const button of all("[data-recording]")) button.hidden = (button.dataset.recording === "begin") === (at !== null);
}
