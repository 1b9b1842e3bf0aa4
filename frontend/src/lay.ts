/** Laying out: a tick says that these parts lie ready. What waits in the queue shows as done already. */

import { all, one } from "./dom";
import { say, unsay } from "./queue";
import { tell } from "./saying";
import { askWho, whoSays } from "./signing";
import type { Waiting } from "./waiting";

/** The refs that a row stands for. */
function partsOf(box: HTMLInputElement): string[] {
  return JSON.parse(box.dataset.parts ?? "[]") as string[];
}

export function followTicks(): void {
  document.addEventListener("change", (event) => {
    const box = event.target;
    if (!(box instanceof HTMLInputElement)) return;
    const step = one("#page")?.dataset.step ?? null;
    if (box.dataset.parts !== undefined) {
      void say(box.checked ? "laid-out" : "taken-back", { step, data: { parts: partsOf(box) } });
      countLaid();
    } else if (box.dataset.torqued !== undefined) {
      const of = JSON.parse(box.dataset.torqued) as string[];
      void either(box, "torqued", step, { of, state: box.dataset.state ?? "final" });
    } else if (box.dataset.settles !== undefined) {
      if (box.dataset.sort === "sign-off") void (box.checked ? sign(box, step) : unsign(box, step));
      else void either(box, "settled", step, { item: box.dataset.item, ...whoSays() });
    }
  });
}

/** A sign-off is ticked when somebody has put a name to it. */
async function sign(box: HTMLInputElement, step: string | null): Promise<void> {
  box.checked = false;
  const who = await askWho(box.dataset.says ?? "");
  if (!who) return;
  box.checked = true;
  await either(box, "settled", step, { item: box.dataset.item, who });
  tell(`Signed by ${who}.`);
}

/** One tap must not lose a signature unseen: it says so, and has the way back. */
async function unsign(box: HTMLInputElement, step: string | null): Promise<void> {
  const who = one("[data-signed-by]", box.closest("label") ?? document)?.textContent?.trim().replace(/^by /, "") ?? "";
  await either(box, "settled", step, {});
  if (box.checked) return;
  const back = (): void => {
    box.checked = true;
    void either(box, "settled", step, { item: box.dataset.item, ...(who ? { who } : {}) });
  };
  tell("The sign-off is taken back.", { word: "Put it back", act: back });
}

/** "by …" beside what was signed or checked. */
function showWho(box: HTMLInputElement, who: string): void {
  const place = one("[data-signed-by]", box.closest("label") ?? document);
  if (place) place.textContent = who && ` by ${who}`;
}

/** A tick says it; taking the tick away takes back what was said. */
async function either(box: HTMLInputElement, kind: string, step: string | null, data: Record<string, unknown>): Promise<void> {
  if (box.checked) {
    showWho(box, String(data.who ?? ""));
    box.dataset.event = await say(kind, { step, data });
  } else if (box.dataset.event) {
    showWho(box, "");
    const of = box.dataset.event;
    if (!(await unsay(of))) await say("undo", { step, data: { of } });
  } else {
    // Said earlier: it stands in the log, and the list of what was said has the way back.
    box.checked = true;
  }
}

/** "3 of 5" beside the heading. */
export function countLaid(): void {
  const boxes = all<HTMLInputElement>("input[data-parts]");
  const place = one("#laid-count");
  if (place && boxes.length) place.textContent = `${boxes.filter((box) => box.checked).length} of ${boxes.length}`;
}

/** The first row that does not lie ready yet. */
export function nextUnticked(): HTMLInputElement | null {
  return all<HTMLInputElement>("input[data-parts]").find((box) => !box.checked) ?? null;
}

/** What was tightened, checked or signed here stays ticked on a page that was made before the log heard of it. */
function overlayDone(id: string, kind: string, data: Record<string, unknown>): void {
  for (const box of all<HTMLInputElement>(kind === "settled" ? "input[data-settles]" : "input[data-torqued]")) {
    const same = kind === "settled" ? box.dataset.item === data.item : JSON.stringify(JSON.parse(box.dataset.torqued!)) === JSON.stringify(data.of);
    if (!same) continue;
    box.checked = true;
    box.dataset.event = id;
    if (kind === "settled") showWho(box, String(data.who ?? ""));
  }
}

/** Lays over the page what this device has said and the log has not answered for. */
export function overlayTicks(rows: readonly Waiting[]): void {
  const step = one("#page")?.dataset.step;
  for (const row of all(".pick.waiting")) row.classList.remove("waiting");
  if (!step) return;
  for (const { event, arrived } of rows) {
    if (event.step !== step) continue;
    if (event.kind === "settled" || event.kind === "torqued") overlayDone(event.id, event.kind, event.data);
    if (event.kind === "undo") {
      for (const box of all<HTMLInputElement>("input[data-event]")) if (box.dataset.event === event.data.of) box.checked = false;
    }
    if (event.kind !== "laid-out" && event.kind !== "taken-back") continue;
    const said = new Set(event.data.parts as string[]);
    for (const box of all<HTMLInputElement>("input[data-parts]")) {
      if (!partsOf(box).some((part) => said.has(part))) continue;
      box.checked = event.kind === "laid-out";
      if (!arrived) box.closest(".pick")?.classList.add("waiting");
    }
  }
  countLaid();
}
