/** The keyboard at the bench: everything that the thumb does. `?` shows the list. */

import { one } from "./dom";
import { nextUnticked } from "./lay";
import { openSheet } from "./sheets";

function press(selector: string): boolean {
  const control = one(selector);
  if (!control || control.hasAttribute("disabled")) return false;
  control.click();
  return true;
}

const KEYS: Record<string, () => boolean> = {
  ArrowRight: () => press("[data-key=next]"),
  ArrowLeft: () => press("[data-key=back]"),
  " ": () => {
    const box = nextUnticked();
    if (!box) return false;
    box.click();
    box.focus();
    return true;
  },
  Enter: () => press("[data-done]"),
  d: () => press("[data-differ]"),
  m: () => press("[data-mark]"),
  r: () => {
    const field = one<HTMLInputElement>("input[data-value]");
    field?.focus();
    field?.scrollIntoView({ block: "center" });
    return field !== null;
  },
  v: () => press("[data-view]"),
  o: () => press("[data-key=open-points]"),
  h: () => press("[data-key=order]"),
  p: () => press("[data-key=parts]"),
  s: () => press("[data-key=sort]"),
  "+": () => press("[data-more]"),
  "?": () => openSheet("keys") !== null,
};

export function followKeys(): void {
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const target = event.target as Element;
    if (one("dialog[open]")) return;
    if (target.closest("textarea, select, canvas, [contenteditable]")) return;
    const field = target.closest("input");
    if (field && field.type !== "checkbox") {
      if (event.key === "Escape") field.blur();
      return;
    }
    // Space and Enter belong to the control that has the focus.
    const own = target.closest("a[href], button, input, summary");
    if (own && (event.key === "Enter" || (event.key === " " && own.tagName !== "INPUT"))) return;
    if (own instanceof HTMLInputElement && event.key === " ") {
      if (!own.checked) return;
    }
    const act = KEYS[event.key] ?? (/^[0-9]$/.test(event.key) ? () => press(`[data-choice="${event.key}"]`) : undefined);
    if (act?.()) event.preventDefault();
  });
}
