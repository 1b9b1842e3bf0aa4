/**
 * The step in three dimensions: turn, zoom, later parts as ghosts, what stands in front made clear, slots and keys
 * shown. Drawn only when something changes, so that a phone stays cool.
 */

import { make, one } from "../dom";
import { Stage } from "./stage";
import { readMachine, type Machine, type StepShown } from "./shapes";

const SWITCHES = [
  ["ways", "Ways in"],
  ["later", "Later parts"],
  ["glass", "See through"],
  ["marks", "Slots, keys"],
  ["home", "As drawn"],
] as const;

let shown: { element: HTMLElement; stage: Stage } | null = null;
/** The machine's meshes, fetched once; their address changes when the machine is edited. */
let fetched: { address: string; machine: Promise<Machine> } | null = null;

/** Shows the view in place of the picture, or the picture again. */
export async function toggle(button: HTMLButtonElement): Promise<void> {
  const figure = button.closest<HTMLElement>("figure");
  if (!figure) return;
  const open = shown && figure.contains(shown.element);
  end();
  if (open) {
    button.setAttribute("aria-pressed", "false");
    return;
  }
  const step = (await (await asked(button.dataset.view!)).json()) as StepShown;
  const looks = (button.dataset.looks ?? "").split(",").map(Number);
  if (looks.length === 3 && looks.every(Number.isFinite)) step.view = looks as [number, number, number];
  if (fetched?.address !== step.meshes) {
    fetched = { address: step.meshes, machine: asked(step.meshes).then(async (answer) => readMachine(await answer.arrayBuffer())) };
    fetched.machine.catch(() => (fetched = null));
  }
  const machine = await fetched.machine;
  if (!figure.isConnected) return;
  show(figure, machine, step);
  button.setAttribute("aria-pressed", "true");
}

async function asked(address: string): Promise<Response> {
  const answer = await fetch(address, { credentials: "same-origin" });
  if (answer.status === 202 || answer.status === 503) throw new Error("The shapes are being made ready; ask again in a moment.");
  if (!answer.ok) throw new Error("There are no shapes for this step.");
  return answer;
}

function end(): void {
  if (!shown) return;
  shown.stage.end();
  const frame = shown.element.parentElement && one(".picture-frame", shown.element.parentElement);
  shown.element.remove();
  if (frame) frame.hidden = false;
  shown = null;
}

function show(figure: HTMLElement, machine: Machine, step: StepShown): void {
  const canvas = make("canvas", {
    tabindex: "0", role: "application", "aria-label": "The step in three dimensions. Arrow keys turn, plus and minus zoom, 0 goes back to the first view.",
  });
  const said = make("p", { class: "view-said", role: "status" });
  const element = make("div", { class: "view" }, canvas, said);
  const stage = new Stage(canvas, machine, step, (count) => (element.dataset.drawn = String(count)));
  const bar = make("div", { class: "view-tools", role: "toolbar", "aria-label": "What is shown" });
  for (const [name, words] of SWITCHES) {
    const button = make("button", { type: "button" }, words);
    if (name !== "home") button.setAttribute("aria-pressed", String(name === "ways" && step.ways.length > 0));
    button.addEventListener("click", () => {
      if (name === "home") {
        stage.home();
        return;
      }
      const on = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(on));
      said.textContent = on ? stage.show(name) : stage.hide(name);
    });
    bar.append(button);
  }
  element.append(bar);
  canvas.addEventListener("pick", (event) => (said.textContent = (event as CustomEvent<string>).detail));
  const frame = one(".picture-frame", figure);
  if (frame) frame.hidden = true;
  figure.prepend(element);
  shown = { element, stage };
  stage.fit();
  canvas.focus({ preventScroll: true });
}
