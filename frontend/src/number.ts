/**
 * A number as people write it at the bench: decimal comma or point, and its unit behind it if they like. Pure.
 * The bench reads by the same rules and with the same words (`bench/typed_number.py`); a test holds the two equal.
 */

const NOT_A_NUMBER = "Not a number yet: write it as 0.25 or 0,25.";
const LONGEST_UNIT = 20;

type Scales = Readonly<Record<string, Readonly<Record<string, number>>>>;

/** Units by what they measure, each in the first one of its row; where they come from stands beside the bench's table. */
const SCALES: Scales = {
  length: {
    mm: 1, cm: 10, m: 1000, "µm": 0.001, "\u03bcm": 0.001, um: 0.001, in: 25.4, inch: 25.4, '"': 25.4, "″": 25.4,
    thou: 0.0254, mil: 0.0254,
  },
  slope: {
    "mm/100": 1, "mm/100mm": 1, mmper100mm: 1, "mm/m": 0.1, mmperm: 0.1, "µm/m": 0.0001, "\u03bcm/m": 0.0001, "um/m": 0.0001,
  },
  angle: { rad: 1, mrad: 0.001, "°": Math.PI / 180, deg: Math.PI / 180, degree: Math.PI / 180, degrees: Math.PI / 180 },
  force: { N: 1, newton: 1, mN: 0.001, kN: 1000, gf: 0.00980665, kgf: 9.80665, lbf: 4.4482216152605, ozf: 0.27801385095378125 },
  resistance: { "Ω": 1, "\u2126": 1, ohm: 1, ohms: 1, "mΩ": 0.001, "kΩ": 1000, kohm: 1000 },
  mass: { g: 1, kg: 1000 },
  frequency: { Hz: 1, kHz: 1000 },
  time: { s: 1, min: 60, h: 3600 },
};
const QUANTITY = new Map(Object.entries(SCALES).flatMap(([name, row]) => Object.keys(row).map((unit): [string, string] => [unit, name])));
const TOLD = new Map([["mm/100", "mm per 100 mm"], ["newton", "N"], ["ohm", "Ω"]]);
const OFFERED: Readonly<Record<string, string>> = {
  length: "mm, cm, m, µm, in or thou",
  slope: "mm/100, mm/m, µm/m, mrad or °",
  angle: "°, rad or mrad",
  force: "N, mN, kN, gf, kgf, lbf or ozf",
  resistance: "Ω, mΩ or kΩ",
  mass: "g or kg",
  frequency: "Hz or kHz",
  time: "s, min or h",
};
const SAYS: Readonly<Record<string, string>> = {
  length: "a length", slope: "a slope", angle: "an angle", force: "a force", resistance: "a resistance", mass: "a mass",
  frequency: "a frequency", time: "a time",
};

/** What was typed. `value`: in the field's unit, or null; then `says` has the words for it ("" for an empty field).
 * `converted`: what was typed, where its unit was another; else "". */
export interface Typed {
  value: number | null;
  says: string;
  converted: string;
}

/** A number typed into a field of this unit ("" for a bare number). */
export function typedNumber(text: string, unit: string): Typed {
  const plain = text.replace(/\s+/g, "");
  if (!plain) return { value: null, says: "", converted: "" };
  // "0 05" may be 0.05 or 5: nobody knows.
  if (/[0-9.,]\s+[0-9.,]/.test(text)) return { value: null, says: NOT_A_NUMBER, converted: "" };
  const found = /^([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(.*)$/s.exec(plain.replace(/[−–]/g, "-").replace(",", "."));
  const value = Number(found?.[1]);
  const written = found?.[2] ?? "";
  if (!found || /^(?:[0-9.,+\-/*^]|[eE][+-]?[0-9])/.test(written) || !Number.isFinite(value)) return { value: null, says: NOT_A_NUMBER, converted: "" };
  const own = unitNamed(unit);
  const read = unitNamed(written);
  if (!written || written === unit.replace(/\s+/g, "") || read === own) return { value, says: "", converted: "" };
  const scaled = scaledTo(value, read, own);
  if (scaled === null) return { value: null, says: wrong(written, read, unit, own), converted: "" };
  const same = QUANTITY.get(read) === QUANTITY.get(own) && scaleOf(read) === scaleOf(own);
  return same ? { value, says: "", converted: "" } : { value: scaled, says: "", converted: text.trim() };
}

function scaleOf(unit: string): number {
  return SCALES[QUANTITY.get(unit)!]![unit]!;
}

/** The unit as the table has it: a phone begins with a capital, and no length's name hangs on that. */
function unitNamed(written: string): string {
  const plain = written.replace(/\s+/g, "");
  if (QUANTITY.has(plain)) return plain;
  const small = plain.toLowerCase();
  return ["length", "slope", "angle"].includes(QUANTITY.get(small) ?? "") ? small : plain;
}

function scaledTo(value: number, read: string, own: string): number | null {
  const fromWhat = QUANTITY.get(read);
  const toWhat = QUANTITY.get(own);
  if (!fromWhat || !toWhat) return null;
  if (fromWhat === toWhat) return rounded((value * scaleOf(read)) / scaleOf(own));
  const angle = value * scaleOf(read);
  if (fromWhat === "angle" && toWhat === "slope" && Math.abs(angle) < Math.PI / 2) return rounded((Math.tan(angle) * 100) / scaleOf(own));
  return null;
}

/** As far as a reading may have digits; what a change of unit adds beyond them is noise. */
function rounded(value: number): number {
  return Number(value.toPrecision(10)) + 0;
}

function wrong(written: string, read: string, unit: string, own: string): string {
  const named = TOLD.get(unit) ?? unit;
  const letters = [...written];
  const shown = letters.length <= LONGEST_UNIT ? written : `${letters.slice(0, LONGEST_UNIT).join("")}…`;
  const what = QUANTITY.get(read);
  const first = what ? `“${shown}” is ${SAYS[what]}` : `“${shown}” is no unit known here`;
  const offered = OFFERED[QUANTITY.get(own) ?? ""];
  if (!unit) return `${first}; here goes a number alone.`;
  return `${first}; this field is in ${named}. Write the number alone${offered ? `, or with ${offered}.` : "."}`;
}
