/** Counting: what lies here of a sort, against what is needed. */

import { all, one } from "./dom";
import { say } from "./queue";
import { tell } from "./saying";
import type { Waiting } from "./waiting";

export function followCounts(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-all], [data-more]");
    const row = button?.closest<HTMLElement>("[data-sort]");
    if (!button || !row) return;
    if (button.dataset.more !== undefined) {
      oneMore(row);
      return;
    }
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

/** One piece more than what was counted, by whomever: so two who sort at once add up. */
function oneMore(row: HTMLElement): void {
  const data: Record<string, unknown> = { sort: row.dataset.sort, count: 1 };
  if (row.dataset.box) data.box = row.dataset.box;
  void say("counted-more", { subject: row.dataset.sort ?? null, data });
  showCount(row, Number(row.dataset.now ?? row.dataset.had ?? 0) + 1);
}

function showCount(row: HTMLElement, count: number): void {
  const need = Number(row.dataset.need);
  row.dataset.now = String(count);
  const whole = one("[data-all]", row);
  whole?.setAttribute("aria-pressed", String(Number(whole.dataset.all) === count));
  for (const more of all("[data-more]", row)) {
    const says = one("[data-more-says]", more);
    if (says) says.textContent = `${count + 1} of ${need}`;
  }
  const place = one(".count-said", row);
  if (!place || !row.dataset.need) return;
  const short = need - count;
  place.className = `count-said ${short > 0 ? "bad" : "good"}`;
  place.textContent = short > 0 ? `${count} counted, ${short} short of ${need}` : short < 0 ? `${count} counted, ${-short} to spare` : `${count} counted, exactly what is needed`;
}

/** Counts not yet in the page, on top of those it was made with (`data-had`). */
export function overlayCounts(rows: readonly Waiting[]): void {
  const counted = new Map<HTMLElement, number>();
  for (const { event } of rows) {
    if (event.kind !== "counted" && event.kind !== "counted-more") continue;
    const row = one(`[data-sort="${CSS.escape(String(event.data.sort))}"]`);
    if (!row) continue;
    const before = event.kind === "counted-more" ? (counted.get(row) ?? Number(row.dataset.had ?? 0)) : 0;
    counted.set(row, before + Number(event.data.count));
  }
  for (const [row, count] of counted) showCount(row, count);
}
