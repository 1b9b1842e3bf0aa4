/** "Did it differently" in two taps: which way, and it is kept. Words can follow, and it can be taken back. */

import { make, one, stepHere } from "./dom";
import { say, unsay } from "./queue";
import { tell } from "./saying";
import { freshSheet, openSheet } from "./sheets";

/** The part that the sheet was opened for; none: the step as a whole. */
let part = "";
let name = "";
/** What the page names to be picked instead of it, and how many. */
let by = "";
let count = 0;

const WORDS: Record<string, string> = {
  substitute: "another part served", extra: "one more than asked", skipped: "left out", damaged: "damaged", missing: "not here",
};

export function followDiffer(): void {
  document.addEventListener("click", (event) => {
    const opener = (event.target as Element).closest<HTMLElement>("[data-differ-part], [data-differ]");
    if (opener) {
      part = opener.dataset.differPart ?? "";
      name = opener.dataset.differName ?? "";
      by = opener.dataset.differBy ?? "";
      count = Number(opener.dataset.differCount ?? 0);
      const sheet = openSheet("differ");
      const about = sheet && one("[data-about]", sheet);
      if (about) about.textContent = name || "the step as a whole";
      return;
    }
    const choice = (event.target as Element).closest<HTMLElement>("[data-what]");
    if (choice) void keep(choice.dataset.what!);
  });
}

async function keep(what: string): Promise<void> {
  one<HTMLDialogElement>("#differ")?.close();
  const step = stepHere() || null;
  const data: Record<string, unknown> = { what };
  if (part) data.part = part;
  if (what === "substitute" && by) Object.assign(data, { by, count });
  const id = await say("deviation", { step, subject: part || null, data });
  const row = part ? one(`.pick[data-part="${CSS.escape(part)}"]`) : null;
  if (row) {
    row.classList.add("differs");
    one(".pick-name", row)?.setAttribute("data-differs", WORDS[what] ?? what);
  }
  const [which, called, other, pieces] = [part, name, by, count];
  tell(
    `Kept: ${called || "this step"}, ${WORDS[what] ?? what}.`,
    { word: "Say more", act: () => sayMore(id, what, which, called, other, pieces) },
    { word: "Undo", act: () => void takeBack(id, row) },
  );
}

async function takeBack(id: string, row: HTMLElement | null): Promise<void> {
  if (!(await unsay(id))) await say("undo", { step: stepHere() || null, data: { of: id } });
  row?.classList.remove("differs");
}

/** The same again with words and numbers; the first entry is taken back, so that it counts once. */
function sayMore(id: string, what: string, which: string, called: string, other: string, pieces: number): void {
  const by = make("input", { type: "text", id: "differ-by", autocomplete: "off", value: what === "substitute" ? other : "" });
  const served = what === "substitute" && other ? String(pieces) : "1";
  const count = make("input", { type: "text", inputmode: "numeric", id: "differ-count", value: served });
  const why = make("textarea", { id: "differ-why", rows: "3" });
  const field = (words: string, input: HTMLElement): HTMLElement => make("label", { class: "field" }, make("span", {}, words), input);
  const button = make("button", { type: "submit", class: "button leads wide" }, "Keep");
  const form = make("form", { method: "dialog" });
  if (what === "substitute") form.append(field("What served instead", by));
  form.append(field("How many", count), field("Why, or what was seen", why), button);
  const sheet = freshSheet(called || "This step", form);
  form.addEventListener("submit", () => {
    const data: Record<string, unknown> = { what };
    if (which) data.part = which;
    if (by.value.trim()) data.by = by.value.trim();
    if (/^\d+$/.test(count.value.trim())) data.count = Number(count.value.trim());
    if (why.value.trim()) data.why = why.value.trim();
    const step = stepHere() || null;
    void unsay(id).then(async (gone) => {
      if (!gone) await say("undo", { step, data: { of: id } });
      await say("deviation", { step, subject: which || null, data });
      tell("Kept.");
    });
    sheet.close();
  });
}
