/**
 * Simple posts that a page writes down itself: `<form data-say="note" data-step="…">` says an event of that kind with
 * its fields as data; `data-number` fields are numbers. A button `data-say` with `data-data` (JSON) does the same.
 */

import { all, fact, one, stepHere } from "./dom";
import { renew, forget } from "./pages";
import { say, send } from "./queue";
import { tell } from "./saying";

export function followForms(): void {
  document.addEventListener("submit", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form[data-form]");
    if (!form) return;
    event.preventDefault();
    void sendForm(form);
  });
  document.addEventListener("submit", (event) => {
    const form = (event.target as Element).closest<HTMLFormElement>("form[data-say]");
    if (!form) return;
    event.preventDefault();
    const data = JSON.parse(form.dataset.data ?? "{}") as Record<string, unknown>;
    for (const field of all<HTMLInputElement>("input[name], textarea[name], select[name]", form)) {
      const text = field.value.trim();
      if (!text && field.required) {
        field.focus();
        return;
      }
      if (text) data[field.name] = field.dataset.number === undefined ? text : Number(text);
      field.value = "";
    }
    form.closest<HTMLDialogElement>("dialog")?.close();
    void put(form, data);
  });
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLButtonElement>("button[data-say]");
    if (!button) return;
    button.disabled = true;
    void put(button, JSON.parse(button.dataset.data ?? "{}") as Record<string, unknown>);
  });
}

/** A form of the bench itself, not of the log: sent with the page's token, then the page is shown anew. */
async function sendForm(form: HTMLFormElement): Promise<void> {
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
  try {
    const answer = await fetch(form.action, { method: "POST", body, credentials: "same-origin", headers: { "X-Trysquare-Token": fact("token") } });
    if (!answer.ok) throw new Error();
    await renew();
  } catch {
    tell("The bench did not take it. Try again.");
  }
}

async function put(source: HTMLElement, data: Record<string, unknown>): Promise<void> {
  const step = source.dataset.step ?? (stepHere() || null);
  await say(source.dataset.say!, { step: step || null, subject: source.dataset.subject ?? null, data });
  const row = source.closest("[data-settles]");
  if (row instanceof HTMLElement) {
    row.classList.add("settled");
    row.dataset.settled = "yes";
  }
  tell(source.dataset.said ?? "Kept.");
  if (one("[data-live]")) {
    await send();
    forget();
    await renew();
  }
}
