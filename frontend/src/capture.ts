/**
 * Photos, recordings and files, kept by the bench under their content's hash. A place that captures is marked
 * `data-capture` ("photo", "sound" or "file") and says with `data-of` what for; a file can always be chosen instead.
 */

import { make, one, stepHere } from "./dom";
import { say } from "./queue";
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
  const about = { step: stepHere() || null, subject: place.dataset.of || null, sort: place.dataset.capture ?? "" };
  const id = await keepFile(file, name, about);
  const list = one("[data-captured]", place);
  if (list) list.append(await thumbnail(file, name));
  place.dispatchEvent(new CustomEvent("captured", { bubbles: true, detail: { id, file, name } }));
  tell(file.type.startsWith("image/") ? "Photo kept." : "File kept.");
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
