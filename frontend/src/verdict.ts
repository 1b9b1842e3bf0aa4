/** In or out: a reading against its limit, with what its instrument leaves open. Pure. */

export interface Limits {
  limit: number;
  /** Half-width of the instrument's error limits in the limit's unit; 0: not known. */
  half: number;
  unit: string;
}

export type Verdict = "good" | "bad" | "cannot-tell";

/** A number as people write it at the bench: decimal comma or point, a sign, blanks. null: none. */
export function numberFrom(text: string): number | null {
  const plain = text.trim().replace(/\s/g, "").replace(/[−–]/g, "-").replace(",", ".");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) return null;
  const value = Number(plain);
  return Number.isFinite(value) ? value : null;
}

/** Good or bad only where the whole error limits of the instrument stand behind it. */
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

/** The verdict as a sentence. */
export function sentence(value: number, limits: Limits): string {
  const { limit, half, unit } = limits;
  const said = `${written(value)} ${unit}`;
  const room = half ? `, even with ± ${written(half)}` : "";
  switch (judge(value, limits)) {
    case "good":
      return `In: ${said} stays within ${written(limit)}${room}.`;
    case "bad":
      return `Out: ${said} is more than ${written(limit)}${room}.`;
    default:
      return `Cannot tell: ${said} ± ${written(half)} lies across the limit ${written(limit)}. A finer instrument tells.`;
  }
}
