/**
 * Photos, recordings and files, kept by the bench under their content's hash. A place that captures is marked
 * `data-capture` ("photo", "sound" or "file") and says with `data-of` what for; a file can always be chosen instead.
 */

import { make, one, stepHere } from "./dom";
import { say, unsay } from "./queue";
import { record } from "./record";
import { tell } from "./saying";

/** Keeps a file and says so in the log: a photo as "photo", everything else as "file". */
export async function keepFile(file: Blob, name: string, about: { step?: string | null; subject?: string | null; sort?: string; says?: string }): Promise<string> {
  const photo = file.type.startsWith("image/");
  const data: Record<string, unknown> = {};
  if (name) data.name = name;
  if (about.says) data.says = about.says;
  if (!photo && about.sort) data.sort = about.sort;
  return say(photo ? "photo" : "file", { step: about.step ?? null, subject: about.subject ?? null, data, file, name });
}

/** How pictures begin that the bench keeps as photos: bytes, and where they stand. It looks again itself. */
const PICTURES: readonly (readonly [number, string])[] = [
  [0, "\xff\xd8\xff"], [0, "\x89PNG"], [0, "GIF8"], [8, "WEBP"], [4, "ftyp"],
];

/** Whether a file that is called a picture is one, by its own first bytes. */
async function isPicture(file: Blob): Promise<boolean> {
  const first = String.fromCharCode(...new Uint8Array(await file.slice(0, 16).arrayBuffer()));
  return PICTURES.some(([at, begin]) => first.startsWith(begin, at));
}

export function followCapture(): void {
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.type !== "file" || !input.files?.length) return;
    const place = input.closest<HTMLElement>("[data-capture]");
    if (!place) return;
    for (const file of input.files) void keepAndShow(place, file, file.name);
    input.value = "";
  });
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-record]");
    const place = button?.closest<HTMLElement>("[data-capture]");
    if (button && place) void record(button, (file) => void keepAndShow(place, file, file.name));
  });
}

async function keepAndShow(place: HTMLElement, file: Blob, name: string): Promise<void> {
  if (file.type.startsWith("image/") && !(await isPicture(file).catch(() => true))) {
    tell(`“${name || "This file"}” is no picture inside, whatever its name says: nothing was kept. Choose the photo itself.`);
    return;
  }
  const about = { step: stepHere() || null, subject: place.dataset.of || null, sort: place.dataset.capture ?? "" };
  const id = await keepFile(file, name, about);
  const list = one("[data-captured]", place);
  const shown = list ? await thumbnail(file, name) : null;
  if (shown) list?.append(shown);
  place.dispatchEvent(new CustomEvent("captured", { bubbles: true, detail: { id, file, name } }));
  tell(file.type.startsWith("image/") ? "Photo kept." : "File kept.", { word: "Undo", act: () => void takeBack(id, about.step, shown) });
}

async function takeBack(id: string, step: string | null, shown: Element | null): Promise<void> {
  if (!(await unsay(id))) await say("undo", { step, data: { of: id } });
  shown?.remove();
  tell("Taken back.");
}

async function thumbnail(file: Blob, name: string): Promise<HTMLElement> {
  if (file.type.startsWith("image/")) {
    const picture = make("canvas", { width: "96", height: "72", role: "img", "aria-label": name || "photo" });
    const drawn = await createImageBitmap(file).catch(() => null);
    if (drawn) {
      const scale = Math.max(96 / drawn.width, 72 / drawn.height);
      const [width, height] = [drawn.width * scale, drawn.height * scale];
      picture.getContext("2d")?.drawImage(drawn, (96 - width) / 2, (72 - height) / 2, width, height);
    }
    return make("li", {}, picture);
  }
  return make("li", {}, name || "recording");
}
