/** Readings on the spot: the limit as a scale, the answer while typing, and all that was read before. */

import { all, make, one, stepHere } from "./dom";
import { say } from "./queue";
import { tell } from "./saying";
import { typedNumber, type Typed } from "./number";
import { judge, resting, sentence, written, type Limits } from "./verdict";
import type { Waiting } from "./waiting";

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 320;
const SIDE = 14;

function limitsOf(block: HTMLElement): Limits | null {
  const limit = Number(block.dataset.limit);
  if (!block.dataset.limit || !Number.isFinite(limit)) return null;
  const chosen = one<HTMLSelectElement>("select[data-instrument]", block)?.selectedOptions[0];
  const half = Number(chosen?.dataset.half ?? block.dataset.half ?? 0) || 0;
  return { limit, half, unit: block.dataset.unitTold ?? block.dataset.unit ?? "" };
}

function instrumentOf(block: HTMLElement): string {
  return one<HTMLSelectElement>("select[data-instrument]", block)?.value ?? block.dataset.instrument ?? "";
}

function typedIn(block: HTMLElement): Typed {
  return typedNumber(one<HTMLInputElement>("input[data-value]", block)?.value ?? "", block.dataset.unit ?? "");
}

/** Draws the scale of every reading on the page. */
export function drawScales(): void {
  for (const block of all(".reading[data-of]")) show(block);
}

function show(block: HTMLElement): void {
  const limits = limitsOf(block);
  const field = one<HTMLInputElement>("input[data-value]", block);
  const place = one<SVGSVGElement>("svg.reading-scale", block);
  const words = one(".verdict", block);
  const { value, says, converted } = typedIn(block);
  if (place && limits && limits.limit > 0) draw(place, limits, value);
  if (!words) return;
  words.className = "verdict";
  if (value === null) {
    const rested = "guard" in words.dataset && limits ? resting(limits) : (words.dataset.rest ?? "");
    words.textContent = says || rested;
    const rest = words.dataset.restClass;
    if (rest && !field?.value.trim()) words.classList.add(rest);
    return;
  }
  const said = converted ? `${converted} is ${written(value)} ${block.dataset.unitTold ?? ""}. ` : "";
  if (!limits) {
    words.textContent = said.trim();
    return;
  }
  words.classList.add(judge(value, limits));
  words.textContent = said + sentence(value, limits);
}

function draw(place: SVGSVGElement, limits: Limits, value: number | null): void {
  const { limit, half } = limits;
  const reach = Math.max(limit * 1.6, limit + 2 * half);
  const at = (mm: number): number => SIDE + (Math.min(Math.abs(mm), reach) / reach) * (WIDTH - 2 * SIDE);
  place.setAttribute("viewBox", `0 0 ${WIDTH} 46`);
  const rows: SVGElement[] = [];
  const good = Math.max(limit - half, 0);
  const zone = (from: number, to: number, name: string): void => {
    if (to > from) rows.push(shape("rect", { x: at(from), y: 16, width: at(to) - at(from), height: 6, class: `zone-${name}` }));
  };
  zone(0, good, "good");
  zone(good, Math.min(limit + half, reach), "doubt");
  zone(limit + half, reach, "bad");
  const step = niceStep(reach / 16);
  for (let n = 0; n * step <= reach * 1.0001; n++) {
    const tall = n % 5 === 0;
    rows.push(shape("path", { d: `M${at(n * step).toFixed(1)} 22v${tall ? 8 : 4}`, class: "mark" }));
  }
  rows.push(shape("path", { d: `M${at(limit).toFixed(1)} 10v22`, class: "mark" }));
  const text = shape("text", { x: at(limit), y: 44 });
  text.textContent = `${written(limit)} ${limits.unit}`;
  rows.push(text);
  if (value !== null) {
    const x = at(value);
    rows.push(shape("path", { d: `M${x.toFixed(1)} 15l-6-11h12z`, class: "needle" }));
    if (half) rows.push(shape("path", { d: `M${at(Math.max(Math.abs(value) - half, 0)).toFixed(1)} 12V9H${at(Math.abs(value) + half).toFixed(1)}v3`, class: "mark", fill: "none" }));
  }
  place.replaceChildren(...rows);
}

function shape(name: string, attributes: Record<string, string | number>): SVGElement {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

function niceStep(rough: number): number {
  const power = 10 ** Math.floor(Math.log10(rough));
  return power * ([1, 2, 5, 10].find((each) => each * power >= rough) ?? 10);
}

/** Typing shows the answer; Enter or the button keeps the reading. */
export function followReadings(): void {
  document.addEventListener("input", (event) => {
    const block = (event.target as Element).closest<HTMLElement>(".reading[data-of]");
    if (block) show(block);
  });
  document.addEventListener("submit", (event) => {
    const form = event.target as HTMLElement;
    const block = form.closest<HTMLElement>(".reading[data-of]");
    if (!block) return;
    event.preventDefault();
    void keep(block);
  });
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-set-aside]");
    if (!button) return;
    const block = button.closest<HTMLElement>(".reading[data-of]");
    button.closest("li")?.classList.add("set-aside");
    const step = block?.dataset.step || stepHere() || null;
    void say("reading-set-aside", { step, data: { of: button.dataset.setAside!, why: "set aside at the bench" } });
    button.remove();
  });
}

async function keep(block: HTMLElement): Promise<void> {
  const field = one<HTMLInputElement>("input[data-value]", block)!;
  const { value, converted } = typedIn(block);
  if (value === null) {
    field.focus();
    show(block);
    return;
  }
  const limits = limitsOf(block);
  const data: Record<string, unknown> = { of: block.dataset.of, value, unit: block.dataset.unit ?? "" };
  const instrument = instrumentOf(block);
  if (instrument) data.instrument = instrument;
  if (converted) data.note = `written as ${converted}`;
  const own = Number(one<HTMLSelectElement>("select[data-instrument]", block)?.selectedOptions[0]?.dataset.limits) || 0;
  if (limits && own) data.uncertainty = own;
  const step = block.dataset.step || stepHere() || null;
  await say("reading", { step, subject: block.dataset.of ?? null, data });
  settle(block, value, limits, instrument);
  const words = one(".verdict", block);
  if (words) {
    const still = limits && block.dataset.settled === "bad" && judge(value, limits) !== "bad" ? ` Still open: ${block.dataset.stood ?? ""}` : "";
    delete words.dataset.guard;
    words.dataset.rest = (limits ? sentence(value, limits) : `Kept: ${written(value)}.`) + still;
    words.dataset.restClass = limits ? (block.dataset.settled ?? "") : "";
  }
  field.value = "";
  show(block);
  tell(`Kept: ${written(value)} ${block.dataset.unitTold ?? ""}.`);
}

/** What was out stays so until a reading says in: one that cannot tell takes nothing back. The bench has the same rule. */
function settle(block: HTMLElement, value: number, limits: Limits | null, instrument: string): void {
  const judged = limits ? judge(value, limits) : "good";
  if (judged === "cannot-tell" && block.dataset.settled === "bad") return;
  block.dataset.settled = judged;
  if (judged !== "bad" || !limits) {
    delete block.dataset.stood;
    return;
  }
  const room = limits.half ? `, ± ${written(limits.half)} ${limits.unit}` : "";
  const told = instrument ? `read with ${instrument}${room}` : `read${room}, instrument not said`;
  block.dataset.stood = `Out: ${written(value)} ${limits.unit}, limit ${block.dataset.limitTold ?? `${written(limits.limit)} ${limits.unit}`}, ${told}.`;
}

/** Readings that wait stand in the list of those kept. */
export function overlayReadings(rows: readonly Waiting[]): void {
  for (const old of all(".kept .waiting")) old.remove();
  for (const { event, arrived } of rows) {
    if (event.kind !== "reading") continue;
    const block = one(`.reading[data-of="${CSS.escape(String(event.data.of))}"]`);
    const list = block && one(".kept", block);
    if (!block || !list || (block.dataset.step && block.dataset.step !== event.step)) continue;
    const said = `${written(event.data.value as number)} ${block.dataset.unitTold ?? ""}`;
    list.prepend(make("li", { class: "waiting" }, make("span", { class: "number" }, said), arrived ? "" : "waiting"));
    settle(block, event.data.value as number, limitsOf(block), String(event.data.instrument ?? ""));
  }
}
