/** In or out: a reading against its limit, with what its instrument leaves open. Pure. */

export interface Limits {
  limit: number;
  /** U of one reading with the instrument, in the limit's unit; 0: not known. */
  half: number;
  unit: string;
}

export type Verdict = "good" | "bad" | "cannot-tell";

/** Good within the limit less U, bad beyond the limit plus U. */
export function judge(value: number, { limit, half }: Limits): Verdict {
  const size = Math.abs(value);
  const room = Math.abs(half);
  if (size <= limit - room + 1e-9) return "good";
  if (size > limit + room + 1e-9) return "bad";
  if (room === 0) return size <= limit ? "good" : "bad";
  return "cannot-tell";
}

/** A number as short as it can be said. */
export function written(value: number): string {
  return String(Number(value.toFixed(4))).replace("-", "−");
}

const SLIPPED = " Did a point or a unit slip?";

/** Farther beyond its limit than any frame is: rather a slip of the pen. Common practice, no source. */
function slipped(value: number, { limit, unit }: Limits): boolean {
  return unit.startsWith("mm") && Math.abs(value) > Math.max(3, 20 * limit);
}

/** The verdict as a sentence. */
export function sentence(value: number, limits: Limits): string {
  const { limit, half, unit } = limits;
  const said = `${written(value)} ${unit}`;
  const room = half ? `, even with ± ${written(half)}` : "";
  switch (judge(value, limits)) {
    case "good":
      return `In: ${said} stays within ${written(limit)}${room}.`;
    case "bad":
      return `Out: ${said} is more than ${written(limit)}${room}.${slipped(value, limits) ? SLIPPED : ""}`;
    default:
      return `Cannot tell: ${said} ± ${written(half)} lies across the limit ${written(limit)}. A finer instrument tells.`;
  }
}

/** Up to where an instrument says good, and from where bad, before anything is read. */
export function resting({ limit, half, unit }: Limits): string {
  if (!half) return "";
  const bad = written(limit + half);
  if (half >= limit) return `Bad above ${bad} ${unit}; this instrument cannot say good.`;
  return `Good up to ${written(limit - half)} ${unit}, bad above ${bad}; between them this instrument cannot tell.`;
}
