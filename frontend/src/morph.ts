/**
 * Brings a part of the page to what the bench shows now, element by element, so that the focus stays where it is,
 * pictures do not blink, and what a script has drawn is left alone.
 */

/** What scripts own: the drawing in the page's own lines, the view in 3D, scales, and open sheets. */
const OWN = ".picture-frame, .reading-scale, .view, dialog[open]";

export function morph(now: Element, next: Element): void {
  if (now.tagName !== next.tagName || keyOf(now) !== keyOf(next)) {
    now.replaceWith(next);
    return;
  }
  if (now.matches(".picture-frame")) {
    // The same picture may stand there as lines by now.
    const address = (frame: Element): string => frame.querySelector("[src], [data-src]")?.getAttribute("src") ?? frame.querySelector<HTMLElement>("[data-src]")?.dataset.src ?? "";
    if (address(now) !== address(next)) now.replaceWith(next);
    return;
  }
  if (now.matches(OWN) || now.querySelector(":scope > .view")) return;
  attributes(now, next);
  children(now, next);
}

/** Elements of different keys are different things, however alike they look. */
function keyOf(each: Element): string {
  const { part, of, sort, step } = (each as HTMLElement).dataset ?? {};
  return [each.id, part, of, sort, step].filter(Boolean).join(" ");
}

function attributes(now: Element, next: Element): void {
  for (const { name } of [...now.attributes]) if (!next.hasAttribute(name)) now.removeAttribute(name);
  for (const { name, value } of [...next.attributes]) if (now.getAttribute(name) !== value) now.setAttribute(name, value);
  if (now instanceof HTMLInputElement && now.type === "checkbox") now.checked = next.hasAttribute("checked");
  if (now instanceof HTMLInputElement && now.type === "text" && now !== document.activeElement) now.value = next.getAttribute("value") ?? "";
}

function children(now: Element, next: Element): void {
  const old = [...now.childNodes];
  const coming = [...next.childNodes];
  coming.forEach((child, number) => {
    const at = old[number];
    if (!at) now.append(child);
    else if (at instanceof Element && child instanceof Element) morph(at, child);
    else if (at.nodeType === child.nodeType) {
      if (at.nodeValue !== child.nodeValue) at.nodeValue = child.nodeValue;
    } else (at as ChildNode).replaceWith(child);
  });
  for (const spare of old.slice(coming.length)) spare.remove();
}
