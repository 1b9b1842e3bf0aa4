/**
 * Who answers for it: a sign-off asks for a name, which this device remembers and offers again. Somebody else
 * writes another over it.
 */

import { kept, make, one, stepHere } from "./dom";
import { renew } from "./pages";
import { say, send } from "./queue";
import { tell } from "./saying";
import { freshSheet } from "./sheets";

const LONGEST_NAME = 80;

export function signer(): string {
  return kept.read("signer");
}

export function remember(name: string): void {
  kept.write("signer", name.trim().slice(0, LONGEST_NAME));
}

/** The name goes with what is said, once this device knows one. */
export function whoSays(): { who?: string } {
  return signer() ? { who: signer() } : {};
}

/** Asks who signs; null when nobody does. */
export function askWho(what: string): Promise<string | null> {
  return new Promise((resolve) => {
    const name = make("input", { type: "text", id: "signer", name: "who", required: "", maxlength: String(LONGEST_NAME), autocomplete: "name", value: signer() });
    const form = make(
      "form", { method: "dialog" },
      make("p", {}, what),
      make("label", { class: "field" }, make("span", {}, "Who answers for it"), name),
      make("p", { class: "small quiet" }, "The name stands in the build log and in the as-built sheet. This device remembers it; write another over it when somebody else signs."),
      make("button", { type: "submit", class: "button leads wide" }, "Sign"),
    );
    let signed: string | null = null;
    const sheet = freshSheet("Sign off", form);
    form.addEventListener("submit", (event) => {
      signed = name.value.trim().slice(0, LONGEST_NAME) || null;
      if (signed) remember(signed);
      else event.preventDefault();
    });
    sheet.addEventListener("close", () => resolve(signed));
    name.focus();
    name.select();
  });
}

/** Fields that ask for the name begin with the one that is known. */
export function fillSigner(): void {
  for (const field of document.querySelectorAll<HTMLInputElement>(".sign-form input[name=who]")) if (!field.value) field.value = signer();
}

/** Of the open points, a sign-off is signed, not ticked off. */
export function followSigning(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-sign]");
    if (!button) return;
    void (async () => {
      const who = await askWho(button.dataset.says ?? "");
      if (!who) return;
      await say("settled", { step: button.dataset.step || stepHere() || null, data: { item: button.dataset.sign, who } });
      tell(`Signed by ${who}.`);
      await send();
      if (one("[data-live]")) await renew();
    })();
  });
}
