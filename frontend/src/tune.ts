/**
 * Tuning: a form (`data-ask`) whose files were sent or recorded before. Its answer is a piece of page, made by the
 * bench and put under the form; what is kept of it is an entry of the log like any other.
 */

import { all, fact, make, one } from "./dom";
import { forget, renew } from "./pages";
import { say, send } from "./queue";
import { record } from "./record";
import { tell } from "./saying";
import { fillSigner, remember } from "./signing";

interface Sent {
  sha256: string;
  name: string;
}

const LONGEST_NAME = 120;
const filesOf = new WeakMap<Element, Sent[]>();

export function followTune(): void {
  document.addEventListener("submit", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form[data-ask]");
    if (!form) return;
    event.preventDefault();
    void ask(form);
  });
  document.addEventListener("submit", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form.sign-form");
    if (!form) return;
    event.preventDefault();
    void sign(form);
  });
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.type !== "file") return;
    const place = input.closest<HTMLElement>("form[data-ask] [data-file]");
    if (!place || !input.files?.length) return;
    event.stopImmediatePropagation();
    void take(place, [...input.files]);
    input.value = "";
  }, true);
  document.addEventListener("dragover", (event) => {
    if (one("form[data-ask] [data-file]")) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    const place = one("form[data-ask] [data-file]");
    const files = [...(event.dataTransfer?.files ?? [])];
    if (!place || !files.length) return;
    event.preventDefault();
    void take(place, files);
  });
  document.addEventListener("click", (event) => {
    const target = event.target as Element;
    const drop = target.closest<HTMLElement>("[data-drop-file]");
    const place = drop?.closest<HTMLElement>("[data-file]");
    if (drop && place) {
      filesOf.set(place, (filesOf.get(place) ?? []).filter(({ sha256 }) => sha256 !== drop.dataset.dropFile));
      drop.closest("li")?.remove();
    }
    const button = target.closest<HTMLElement>("form[data-ask] [data-record]");
    const where = button?.closest<HTMLElement>("[data-file]");
    if (button && where) {
      event.stopImmediatePropagation();
      void record(button, (file) => void take(where, [file]));
    }
  }, true);
}

/** A check is signed by whoever answers for it, and the list is asked for anew. */
async function sign(form: HTMLFormElement): Promise<void> {
  const who = one<HTMLInputElement>("input[name=who]", form)?.value.trim();
  if (!who) return;
  remember(who);
  const data = { of: form.dataset.of!, verdict: "good", says: `signed by ${who}`, values: { what: "wiring" } };
  await say("result", { step: null, data });
  await send();
  tell("Signed.");
  forget();
  await renew();
  const asking = one<HTMLFormElement>("form[data-ask]");
  if (asking) await ask(asking);
}

async function take(place: HTMLElement, files: File[]): Promise<void> {
  const many = place.dataset.capture !== undefined || one<HTMLInputElement>("input[type=file]", place)?.multiple;
  for (const file of many ? files : files.slice(0, 1)) {
    const sent = await sendFile(file, file.name);
    if (!sent) continue;
    const list = one(".captured", place);
    if (!many) {
      filesOf.set(place, []);
      list?.replaceChildren();
    }
    filesOf.set(place, [...(filesOf.get(place) ?? []), sent]);
    const row = make("li", {}, sent.name || "recording", " ");
    row.append(make("button", { type: "button", class: "button plain quiet-button", "data-drop-file": sent.sha256 }, "leave out"));
    list?.append(row);
  }
}

async function sendFile(file: Blob, name: string): Promise<Sent | null> {
  const suffix = /\.[A-Za-z0-9]{1,8}$/.exec(name)?.[0].toLowerCase() ?? "";
  try {
    const answer = await fetch("/files", {
      method: "POST",
      body: file,
      credentials: "same-origin",
      headers: { "X-Trysquare-Token": fact("token"), "X-Trysquare-Suffix": suffix, "Content-Type": "application/octet-stream" },
    });
    const said = (await answer.json().catch(() => ({}))) as { sha256?: string; says?: string; remedy?: string };
    if (answer.ok && said.sha256) return { sha256: said.sha256, name: name.slice(0, LONGEST_NAME) };
    tell(`${name}: ${said.says ?? "it was not taken"} ${said.remedy ?? ""}`);
  } catch {
    tell("The bench does not answer. Choose the file again when it does.");
  }
  return null;
}

async function ask(form: HTMLFormElement): Promise<void> {
  const fields: Record<string, string> = {};
  for (const field of all<HTMLInputElement>("input[name], select[name], textarea[name]", form)) {
    const text = field.type === "checkbox" ? (field.checked ? "yes" : "") : field.value.trim();
    if (text) fields[field.name] = text;
  }
  const files: Record<string, Sent[]> = {};
  for (const place of all("[data-file]", form)) {
    const sent = filesOf.get(place) ?? [];
    if (sent.length) files[place.dataset.file!] = sent;
  }
  const button = one<HTMLButtonElement>(".tool-ask", form);
  const answerPlace = one("#answer");
  button?.setAttribute("aria-busy", "true");
  if (button) button.disabled = true;
  try {
    const answer = await fetch(form.dataset.ask!, {
      method: "POST",
      body: JSON.stringify({ fields, files }),
      credentials: "same-origin",
      headers: { "X-Trysquare-Token": fact("token"), "Content-Type": "application/json", Accept: "text/html, application/json" },
    });
    if (!(answer.headers.get("Content-Type") ?? "").startsWith("text/html")) {
      const said = (await answer.json().catch(() => ({}))) as { says?: string; remedy?: string };
      tell(`${said.says ?? "The bench did not take it."} ${said.remedy ?? ""}`);
      return;
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    answerPlace?.replaceChildren(...page.body.childNodes);
    fillSigner();
    answerPlace?.scrollIntoView({ block: "start" });
  } catch {
    tell("The bench does not answer. Nothing was lost: try again when it does.");
  } finally {
    button?.removeAttribute("aria-busy");
    if (button) button.disabled = false;
  }
}
