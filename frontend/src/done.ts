/** Done, next: and if something that matters is still open, why. */

import { all, make, one, stepHere } from "./dom";
import { go } from "./pages";
import { say, unsay } from "./queue";
import { markRule } from "./rule";
import { tell } from "./saying";
import { freshSheet } from "./sheets";
import { whoSays } from "./signing";
import { autoMark } from "./marks";

interface Item {
  item: string;
  sort: string;
  says: string;
  /** "reading" not made yet, "bad" read and out, "doing" for a check or a sign-off. */
  lacks: "reading" | "bad" | "doing";
  /** What was read and is out: value, limit, instrument. */
  read: string;
}

const WHY: Record<Item["lacks"], readonly string[]> = {
  reading: ["Instrument not at hand", "Will be read after the next steps"],
  bad: ["Will be trued in a later step", "Good enough for now"],
  doing: ["Will be done later"],
};

/** Safety items, alignments and sign-offs of this step that nobody has settled or left open with a reason. */
function openItems(): Item[] {
  return all("[data-must]")
    .filter((each) => {
      if (each.dataset.left !== undefined) return false;
      if (each instanceof HTMLInputElement) return !each.checked;
      return !["good", "yes"].includes(each.dataset.settled ?? "");
    })
    .map((each) => ({
      item: each.dataset.must!,
      sort: each.dataset.sort ?? "",
      says: each.dataset.says || each.dataset.must!,
      lacks: each instanceof HTMLInputElement || !("of" in each.dataset) ? "doing" : each.dataset.settled === "bad" ? "bad" : "reading",
      read: each.dataset.settled === "bad" ? (each.dataset.stood ?? "") : "",
    }));
}

export function followDone(): void {
  document.addEventListener("click", (event) => {
    const button = (event.target as Element).closest<HTMLElement>("[data-done]");
    if (button) {
      event.preventDefault();
      void done(button);
      return;
    }
    const again = (event.target as Element).closest<HTMLElement>("[data-reopen]");
    if (again) {
      event.preventDefault();
      const step = again.dataset.reopen!;
      void say("reopened", { step });
      markRule(step, false);
      again.closest(".step-state")?.remove();
      tell("The step is open again.");
    }
  });
}

async function done(button: HTMLElement): Promise<void> {
  const step = stepHere();
  const next = button.dataset.next ?? "";
  if (!step) return;
  if (button.dataset.done === "already") {
    await go(next || "/");
    return;
  }
  const open = openItems();
  if (!open.length) {
    await finish(step, next);
    return;
  }
  const reason = make("textarea", { id: "left-open-reason", rows: "3", "aria-label": "Reason in your own words", placeholder: "Your own words" });
  const list = make("ul", { class: "plain-list still-open" }, ...open.map((each) => make("li", {}, make("i", { class: "notch", "aria-hidden": "true" }), each.says, ...(each.read ? [make("strong", { class: "entry-read" }, each.read)] : []))));
  const keep = async (why: string): Promise<void> => {
    sheet.close();
    const left: string[] = [];
    for (const each of open) left.push(await say("left-open", { step, data: { item: each.item, reason: why, ...(each.sort && { sort: each.sort }), ...whoSays() } }));
    await finish(step, next, left);
  };
  const choice = (why: string): HTMLButtonElement => {
    const made = make("button", { type: "button", class: "button wide" }, why);
    made.addEventListener("click", () => void keep(why));
    return made;
  };
  const own = make("button", { type: "button", class: "button leads wide" }, "Leave it open for this reason");
  own.addEventListener("click", () => (reason.value.trim() ? void keep(reason.value.trim()) : reason.focus()));
  const sheet = freshSheet(
    open.length === 1 ? "One thing is still open" : `${open.length} things are still open`,
    list,
    make("p", { class: "small quiet" }, open.length === 1 ? "It stays on the list of open points until it is settled. Why go on?" : "They stay on the list of open points until they are settled. Why go on?"),
    make("div", { class: "choices" }, ...[...new Set(open.flatMap((each) => WHY[each.lacks])), "Waiting for a part"].map(choice), reason, own),
  );
  one(".choices button", sheet)?.focus();
}

/** `left`: what was said in the same tap; one undo takes it all back. */
async function finish(step: string, next: string, left: readonly string[] = []): Promise<void> {
  const id = await say("done", { step });
  markRule(step, true);
  const title = one("#page")?.dataset.title ?? step;
  if (next) {
    await go(next);
    await autoMark();
  } else {
    await go("/");
  }
  tell(`Done: ${title}.`, { word: "Undo", act: () => void takeBack([id, ...left], step) });
}

async function takeBack(ids: readonly string[], step: string): Promise<void> {
  for (const id of ids) if (!(await unsay(id))) await say("undo", { step, data: { of: id } });
  markRule(step, false);
  await go(`/step/${encodeURIComponent(step)}`);
}
