/** Sheets that come up from below: opened by name or filled on the spot, closed by Escape, the cross or the ground. */

import { make, one } from "./dom";

/** Opens the `<dialog>` of this id. */
export function openSheet(id: string): HTMLDialogElement | null {
  const sheet = one<HTMLDialogElement>(`dialog#${CSS.escape(id)}`);
  if (sheet && !sheet.open) sheet.showModal();
  return sheet;
}

/** A sheet with these contents, gone when it is closed. */
export function freshSheet(heading: string, ...children: (Node | string)[]): HTMLDialogElement {
  const title = make("h2", { id: "fresh-sheet-title" }, heading);
  const close = make("button", { type: "button", class: "close", "aria-label": "Close", "data-close": "" }, "×");
  const sheet = make("dialog", { class: "from-below", "aria-labelledby": "fresh-sheet-title" }, title, ...children, close);
  sheet.addEventListener("close", () => sheet.remove());
  document.body.append(sheet);
  sheet.showModal();
  return sheet;
}

/** Words explained where they stand. */
async function explain(name: string): Promise<boolean> {
  try {
    const answer = await fetch(`/help/${encodeURIComponent(name)}`, { credentials: "same-origin" });
    if (!answer.ok) return false;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const body = one("[data-answer]", page);
    if (!body) return false;
    freshSheet(one("h1", page)?.textContent?.trim() ?? name, document.importNode(body, true));
    return true;
  } catch {
    return false;
  }
}

export function followSheets(): void {
  document.addEventListener("click", (event) => {
    const target = event.target as Element;
    const opener = target.closest<HTMLElement>("[data-opens]");
    if (opener) {
      event.preventDefault();
      openSheet(opener.dataset.opens!);
      return;
    }
    if (target.closest("[data-close]") || target instanceof HTMLDialogElement) {
      target.closest("dialog")?.close();
      return;
    }
    const term = target.closest<HTMLAnchorElement>("a[data-term]");
    if (term && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      void explain(term.dataset.term!).then((shown) => {
        if (!shown) location.assign(term.href);
      });
    }
  });
}
