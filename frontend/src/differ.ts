/** "Did it differently": which way, of which part, and it is kept. Words can follow, and it can be taken back. */

import { all, make, one, stepHere } from "./dom";
import { say, unsay } from "./queue";
import { tell } from "./saying";
import { freshSheet, openSheet } from "./sheets";
import { whoSays } from "./signing";

/** What a part of the step is called, and what the page names to be picked instead of it. */
interface Of {
  part: string;
  name: string;
  by: string;
  count: number;
}

const WHOLE: Of = { part: "", name: "", by: "", count: 0 };
/** What the sheet was opened for; WHOLE: the step. */
let of = WHOLE;

const WORDS: Record<string, string> = {
  substitute: "another part served", extra: "one more than asked", skipped: "left out", damaged: "damaged", missing: "not here",
};
const WHICH: Record<string, string> = {
  substitute: "Which part was replaced?", extra: "One more of which part?", damaged: "Which part is damaged?", missing: "Which part is not here?",
};
const WHY_SKIPPED = ["Not needed on this machine", "Will be done later", "A part is missing"];

function ofRow(button: HTMLElement): Of {
  const { differPart = "", differName = "", differBy = "", differCount = "0" } = button.dataset;
  return { part: differPart, name: differName, by: differBy, count: Number(differCount) };
}

export function followDiffer(): void {
  document.addEventListener("click", (event) => {
    const opener = (event.target as Element).closest<HTMLElement>("[data-differ-part], [data-differ]");
    if (opener) {
      of = ofRow(opener);
      const sheet = openSheet("differ");
      const about = sheet && one("[data-about]", sheet);
      if (about) about.textContent = of.name || "in this step";
      return;
    }
    const choice = (event.target as Element).closest<HTMLElement>("[data-what]");
    if (!choice) return;
    const what = choice.dataset.what!;
    one<HTMLDialogElement>("#differ")?.close();
    if (of.part) void keep(what, of);
    else if (what === "skipped") askWhySkipped();
    else askWhich(what);
  });
}

/** The parts of this step to choose from, as they stand among those to lay out; stock and later steps go by the part. */
function askWhich(what: string): void {
  const rows = all(".pick");
  if (!rows.length) {
    sayMore("", what, WHOLE);
    return;
  }
  const list = make("div", { class: "choices part-choices" });
  const sheet = freshSheet(WHICH[what] ?? "Which part?", list);
  for (const row of rows) {
    const own = one("[data-differ-part]", row);
    if (!own) continue;
    const picture = one<HTMLImageElement>(".pick-picture img", row);
    const letter = one(".letter", row)?.textContent?.trim() ?? "";
    const chosen = make("button", { type: "button", class: "choice" });
    if (letter) chosen.append(make("span", { class: "letter" }, letter));
    chosen.append(make("span", {}, own.dataset.differName ?? "", make("small", {}, one(".pick-count", row)?.textContent?.trim() ?? "")));
    if (picture) {
      const attributes = { src: picture.getAttribute("src")!, alt: "", class: "drawing", width: String(picture.width), height: String(picture.height) };
      chosen.append(make("span", { class: "choice-picture" }, make("img", attributes)));
    }
    chosen.addEventListener("click", () => {
      sheet.close();
      void keep(what, ofRow(own));
    });
    list.append(chosen);
  }
  const none = make("button", { type: "button", class: "choice" }, make("span", {}, "None of these", make("small", {}, "say it in words")));
  none.addEventListener("click", () => {
    sheet.close();
    sayMore("", what, WHOLE);
  });
  list.append(none);
  one(".choice", list)?.focus();
}

/** A step that is left out says why, so that whoever comes later need not guess. */
function askWhySkipped(): void {
  const reason = make("textarea", { id: "skipped-why", rows: "3", "aria-label": "Reason in your own words", placeholder: "Your own words" });
  const leave = (why: string): void => {
    sheet.close();
    void keep("skipped", WHOLE, why);
  };
  const choice = (why: string): HTMLButtonElement => {
    const made = make("button", { type: "button", class: "button wide" }, why);
    made.addEventListener("click", () => leave(why));
    return made;
  };
  const own = make("button", { type: "button", class: "button leads wide" }, "Skip it for this reason");
  own.addEventListener("click", () => (reason.value.trim() ? leave(reason.value.trim()) : reason.focus()));
  const says = make("p", { class: "small quiet" }, "The page and the order say so until somebody does it. Why is it skipped?");
  const sheet = freshSheet("Skip the whole step", says, make("div", { class: "choices" }, ...WHY_SKIPPED.map(choice), reason, own));
  one(".choices button", sheet)?.focus();
}

async function keep(what: string, which: Of, why = ""): Promise<void> {
  const step = stepHere() || null;
  const data: Record<string, unknown> = { what, ...whoSays() };
  if (which.part) data.part = which.part;
  if (why) data.why = why;
  if (what === "substitute" && which.by) Object.assign(data, { by: which.by, count: which.count });
  const id = await say("deviation", { step, subject: which.part || null, data });
  const row = which.part ? one(`.pick[data-part="${CSS.escape(which.part)}"]`) : null;
  if (row) {
    row.classList.add("differs");
    one(".pick-name", row)?.setAttribute("data-differs", WORDS[what] ?? what);
  }
  const undo = { word: "Undo", act: () => void takeBack(id, row) };
  if (why) tell("Skipped, and kept why.", undo);
  else tell(`Kept: ${which.name || "this step"}, ${WORDS[what] ?? what}.`, { word: "Say more", act: () => sayMore(id, what, which) }, undo);
}

async function takeBack(id: string, row: HTMLElement | null): Promise<void> {
  if (!(await unsay(id))) await say("undo", { step: stepHere() || null, data: { of: id } });
  row?.classList.remove("differs");
}

/** It is said with words and numbers. `id`: the same was said without, and is taken back so that it counts once. */
function sayMore(id: string, what: string, which: Of): void {
  const by = make("input", { type: "text", id: "differ-by", autocomplete: "off", value: what === "substitute" ? which.by : "" });
  const served = what === "substitute" && which.by ? String(which.count) : "1";
  const count = make("input", { type: "text", inputmode: "numeric", id: "differ-count", value: served, required: "", pattern: "[1-9][0-9]{0,4}", title: "A whole number, 1 or more" });
  const why = make("textarea", { id: "differ-why", rows: "3" });
  const field = (words: string, input: HTMLElement): HTMLElement => make("label", { class: "field" }, make("span", {}, words), input);
  const button = make("button", { type: "submit", class: "button leads wide" }, "Keep");
  const form = make("form", { method: "dialog" });
  if (what === "substitute") form.append(field("What served instead", by));
  why.required = !which.part;
  form.append(field("How many", count), field(which.part ? "Why, or what was seen" : "Which part, and what was seen", why), button);
  const sheet = freshSheet(which.name || `This step: ${WORDS[what] ?? what}`, form);
  form.addEventListener("submit", () => {
    const data: Record<string, unknown> = { what, ...whoSays() };
    if (which.part) data.part = which.part;
    if (by.value.trim()) data.by = by.value.trim();
    data.count = Number(count.value.trim());
    if (why.value.trim()) data.why = why.value.trim();
    const step = stepHere() || null;
    void (async () => {
      if (id && !(await unsay(id))) await say("undo", { step, data: { of: id } });
      await say("deviation", { step, subject: which.part || null, data });
      tell("Kept.");
    })();
    sheet.close();
  });
}
