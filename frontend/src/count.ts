/** Counting: what lies here of a sort, against what is needed. */

import { all, one } from "./dom";
import { say } from "./queue";
import { tell } from "./saying";
import type { Waiting } from "./waiting";

export function followCounts(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-all]");
    const row = button?.closest<HTMLElement>("[data-sort]");
    if (!button || !row) return;
    one<HTMLInputElement>("input", row)!.value = "";
    keep(row, Number(button.dataset.all));
  });
  document.addEventListener("submit", (event) => {
    const row = (event.target as Element).closest<HTMLElement>("[data-sort]");
    if (!row) return;
    event.preventDefault();
    const field = one<HTMLInputElement>("input", row)!;
    const text = field.value.trim();
    if (!/^\d{1,6}$/.test(text)) {
      tell("A count is a whole number.");
      field.focus();
      return;
    }
    field.defaultValue = text;
    keep(row, Number(text));
  });
  document.addEventListener("input", (event) => {
    const search = event.target;
    if (!(search instanceof HTMLInputElement) || search.dataset.filters === undefined) return;
    const wanted = search.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of all("[data-words]")) row.hidden = !wanted.every((word) => row.dataset.words!.toLowerCase().includes(word));
  });
}

function keep(row: HTMLElement, count: number): void {
  const data: Record<string, unknown> = { sort: row.dataset.sort, count };
  if (row.dataset.box) data.box = row.dataset.box;
  void say("counted", { subject: row.dataset.sort ?? null, data });
  showCount(row, count);
}

function showCount(row: HTMLElement, count: number): void {
  const need = Number(row.dataset.need);
  const whole = one("[data-all]:not([data-more])", row);
  whole?.setAttribute("aria-pressed", String(Number(whole.dataset.all) === count));
  for (const more of all("[data-more]", row)) {
    more.dataset.all = String(count + 1);
    const says = one("[data-more-says]", more);
    if (says) says.textContent = `${count + 1} of ${need}`;
  }
  const place = one(".count-said", row);
  if (!place || !row.dataset.need) return;
  const short = need - count;
  place.className = `count-said ${short > 0 ? "bad" : "good"}`;
  place.textContent = short > 0 ? `${count} counted, ${short} short of ${need}` : short < 0 ? `${count} counted, ${-short} to spare` : `${count} counted, exactly what is needed`;
}

export function overlayCounts(rows: readonly Waiting[]): void {
  for (const { event } of rows) {
    if (event.kind !== "counted") continue;
    const row = one(`[data-sort="${CSS.escape(String(event.data.sort))}"]`);
    if (row) showCount(row, Number(event.data.count));
  }
}
