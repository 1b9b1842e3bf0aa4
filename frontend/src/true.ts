/**
 * Truing: readings between features are typed and kept, the page answers with verdict, advice and the next reading.
 * On a step with readings a short answer is fetched beside them (`data-true-at`).
 */

import { all, newId, one, stepHere } from "./dom";
import { morph } from "./morph";
import { forget, renew } from "./pages";
import { say, send } from "./queue";
import { tell } from "./saying";
import { typedNumber } from "./number";
import { written } from "./verdict";

interface Cells {
  [name: string]: string;
}

export function followTrue(): void {
  document.addEventListener("submit", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form[data-true]");
    if (!form) return;
    event.preventDefault();
    void keep(form);
  });
  document.addEventListener("change", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form[data-true][data-free]");
    if (form) shape(form);
  });
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLButtonElement>("[data-true-aside]");
    if (!button) return;
    button.disabled = true;
    void say("reading-set-aside", {
      step: button.dataset.step || null,
      data: { of: button.dataset.trueAside!, why: "set aside at the bench" },
    }).then(again);
  });
}

/** What the log has now is judged anew, here and on the step. */
async function again(): Promise<void> {
  await send();
  forget();
  await renew();
  await askAtStep();
}

/** Only what the sort needs is asked for. */
function shape(form: HTMLFormElement): void {
  const sort = one<HTMLSelectElement>("[data-cell=sort]", form)!.selectedOptions[0]!;
  const second = one("[data-second]", form);
  if (second) second.hidden = !sort.dataset.second;
  for (const field of all(".unit", form)) field.textContent = sort.dataset.unit ?? "";
  for (const field of all("input[data-row]", form)) field.dataset.unit = sort.dataset.unit ?? "";
}

export function shapeForms(): void {
  for (const form of all<HTMLFormElement>("form[data-true][data-free]")) shape(form);
}

/** The cells of a reading that somebody puts together; null while something is missing, which is shown. */
function freeCells(form: HTMLFormElement): Cells | null {
  const cells: Cells = { round: form.dataset.round ?? "1" };
  for (const field of all<HTMLInputElement | HTMLSelectElement>("[data-cell]", form)) {
    const name = field.dataset.cell!;
    if (field instanceof HTMLInputElement && field.type === "checkbox") {
      if (field.checked) cells[name] = "yes";
      continue;
    }
    if (field.closest<HTMLElement>("[hidden]")) continue;
    const text = field.value.trim();
    if (!text) {
      field.focus();
      said(form, "Name the feature, for example left-base:a.");
      return null;
    }
    cells[name] = text;
  }
  return cells;
}

function said(form: HTMLFormElement, words: string): void {
  const place = one(".true-said", form);
  if (place) place.textContent = words;
}

async function keep(form: HTMLFormElement): Promise<void> {
  const fields = all<HTMLInputElement>("input[data-row]", form);
  const values: number[] = [];
  const notes: string[] = [];
  for (const field of fields) {
    const { value, says, converted } = typedNumber(field.value, field.dataset.unit ?? "mm");
    if (value === null) {
      field.focus();
      said(form, says || "Write what it reads.");
      return;
    }
    values.push(value);
    notes.push(converted && `written as ${converted}`);
  }
  const free = form.dataset.free !== undefined ? freeCells(form) : {};
  if (!free) return;
  const { instrument = form.dataset.instrument ?? "", ...cells } = free;
  const setting = form.dataset.freeZero !== undefined ? `bench ${newId().slice(0, 8)}` : "";
  for (const [index, field] of fields.entries()) {
    const row: Cells = { ...(JSON.parse(field.dataset.row!) as Cells), ...cells };
    if (setting) row.setting = setting;
    const of = field.dataset.of || [row.sort, row.from, row.to ? `to ${row.to}` : ""].filter(Boolean).join(" ");
    const data: Record<string, unknown> = { of, value: values[index], unit: field.dataset.unit ?? "mm", row };
    if (instrument) data.instrument = instrument;
    if (notes[index]) data.note = notes[index];
    await say("reading", { step: form.dataset.step || stepHere() || null, subject: of, data });
    field.value = "";
  }
  tell(`Kept: ${values.map(written).join(", ")}.`);
  said(form, "Kept. It is being judged.");
  form.setAttribute("aria-busy", "true");
  await again();
  form.removeAttribute("aria-busy");
  said(form, "");
}

let asking = 0;

/** Fetches the short answer for the step shown. */
export async function askAtStep(): Promise<void> {
  const place = one("[data-true-at]");
  if (!place || isTyped(place)) return;
  const mine = ++asking;
  try {
    const answer = await fetch(place.dataset.trueAt!, { credentials: "same-origin", headers: { Accept: "text/html" } });
    if (!answer.ok || mine !== asking || !place.isConnected) return;
    const found = one("[data-true-now]", new DOMParser().parseFromString(await answer.text(), "text/html"));
    if (!found || isTyped(place)) return;
    const now = one("[data-true-now]", place);
    if (now) morph(now, document.importNode(found, true));
    else place.replaceChildren(document.importNode(found, true));
  } catch {
    // Without the bench the step goes on; its readings are judged one by one.
  }
}

function isTyped(place: Element): boolean {
  return all<HTMLInputElement>("input[type=text]", place).some((field) => field.value !== field.defaultValue);
}
