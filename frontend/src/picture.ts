/**
 * The step's picture as lines of the page itself: in the page's own letters, by night in its ink, and a
 * letter that is touched shows its row. Until then, and where that fails, the picture stands as an image.
 */

import { all, make, one } from "./dom";

const SVG = "http://www.w3.org/2000/svg";

/** The inks of a drawing by what the page calls them, so that they follow light and dark. */
const INKS: [RegExp, string][] = [
  [/#1c1b19\b/gi, "var(--ink)"], [/#5b5955\b/gi, "var(--drawn-thin)"], [/#f6e3bd\b/gi, "var(--tint)"], [/#fff(fff)?\b/gi, "var(--sheet)"],
];

const OWN_STYLE = `
:host { display: block; }
svg { display: block; width: 100%; height: auto; max-height: inherit; }
.remark { visibility: var(--remark, hidden); }
svg.foot { --remark: visible; }
svg.detail { display: inline-block; width: calc(33.3% - 4px); margin: 2px; vertical-align: top; }
text { font-family: "Source Sans 3", sans-serif !important; }
.touch { fill: transparent; cursor: pointer; }
[fill="#fff"] { fill: var(--sheet); }
.pill.shown { fill: var(--steel); stroke: var(--steel); }
.pill.shown + text { fill: var(--on-steel); }
`;

/** Puts the lines in place of the image. */
export async function livePicture(): Promise<void> {
  const image = one<HTMLImageElement>(".picture-frame > img.drawing");
  if (!image || image.dataset.live !== undefined) return;
  image.dataset.live = "";
  try {
    const answer = await fetch(image.currentSrc || image.src, { credentials: "same-origin" });
    if (!answer.ok || !image.isConnected) return;
    const text = await answer.text();
    // A style in a document of ours is forbidden where it stands, even before it is shown: it goes into a sheet instead.
    const style = [...text.matchAll(/<style>([^<]*)<\/style>/g)].map((found) => found[1]).join("\n");
    const drawn = new DOMParser().parseFromString(text.replace(/<style>[^<]*<\/style>/g, ""), "image/svg+xml").documentElement;
    if (drawn.tagName !== "svg") return;
    for (const each of [...drawn.querySelectorAll("script, foreignObject")]) each.remove();
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(`${INKS.reduce((text, [ink, name]) => text.replace(ink, name), style)}\n${OWN_STYLE}`);
    const host = make("div", { class: "picture-live", "data-src": image.getAttribute("src") ?? "" });
    const shadow = host.attachShadow({ mode: "open" });
    shadow.adoptedStyleSheets = [sheet];
    drawn.removeAttribute("width");
    drawn.removeAttribute("height");
    drawn.setAttribute("preserveAspectRatio", "xMidYMid meet");
    const own = document.importNode(drawn, true) as unknown as SVGSVGElement;
    letters(own);
    shadow.addEventListener("click", (event) => touched(event.target as Element));
    image.replaceWith(host);
    lay(own, shadow);
  } catch {
    // the image stays
  }
}

/** The strip at the foot of a drawing, with scale and remarks; it may be as wide as the drawing. */
const FOOT_MM = 8;
/** Below this the details of a drawing stand in a row of their own, as the style sheet has it for the page. */
const NARROW = matchMedia("(max-width: 700px)");

/** A drawing as it can be shown: whole, or its work alone with the other pieces below. */
interface Pieces {
  drawn: SVGSVGElement;
  whole: string;
  work: string;
  /** Words of the foot that do not fit under the work alone. */
  remarks: readonly Element[];
  below: readonly SVGSVGElement[];
}

const piecesOf = new WeakMap<ShadowRoot, Pieces>();

/** Shows the drawing, and keeps what it can be taken apart into; one without a side column stays whole. */
function lay(drawn: SVGSVGElement, shadow: ShadowRoot): void {
  shadow.append(drawn);
  const pieces = takenApart(drawn);
  if (!pieces) return;
  piecesOf.set(shadow, pieces);
  fit(shadow);
}

/** The drawing as one, or on a narrow page as several: the work over the whole width, its remarks, and the details from
 * its side column in a row below, each as large as a thumb. All show the same lines, by reference. */
function fit(shadow: ShadowRoot): void {
  const pieces = piecesOf.get(shadow);
  if (!pieces) return;
  const apart = NARROW.matches;
  pieces.drawn.setAttribute("viewBox", apart ? pieces.work : pieces.whole);
  for (const each of pieces.remarks) each.classList.toggle("remark", apart);
  if (apart) shadow.append(...pieces.below);
  else for (const each of pieces.below) each.remove();
}

function takenApart(drawn: SVGSVGElement): Pieces | null {
  const whole = drawn.getAttribute("viewBox") ?? "";
  const [left = 0, top = 0, width = 0, height = 0] = whole.split(/[ ,]+/).map(Number);
  const number = (each: Element, name: string): number => Number(each.getAttribute(name));
  const frames = [...drawn.querySelectorAll("rect.frame")].filter((each) => number(each, "x") > left + width * 0.55);
  const edge = Math.min(...frames.map((each) => number(each, "x"))) - 1.2;
  if (!frames.length || !width) return null;
  const all = document.createElementNS(SVG, "g");
  all.id = "all";
  all.append(...[...drawn.children].filter((each) => each.tagName !== "title" && each.tagName !== "desc"));
  drawn.append(all);
  const low = [...all.children]
    .filter((each): each is SVGGraphicsElement => each instanceof SVGGraphicsElement)
    .map((each) => ({ each, box: each.getBBox() }))
    .filter(({ box }) => box.width > 0 && box.y >= top + height - FOOT_MM - 0.6 && box.x > left + 22);
  const tooWide = low.some(({ box }) => box.x + box.width > edge);
  const below: SVGSVGElement[] = [];
  if (tooWide) {
    const begin = Math.min(...low.map(({ box }) => box.x)) - 1;
    below.push(piece("foot", begin, top + height - FOOT_MM, left + width - begin, FOOT_MM));
  }
  const room = 0.3;
  below.push(
    ...frames.map((frame) =>
      piece("detail", number(frame, "x") - room, number(frame, "y") - room, number(frame, "width") + 2 * room, number(frame, "height") + 2 * room),
    ),
  );
  return { drawn, whole, work: `${left} ${top} ${edge - left} ${height}`, remarks: tooWide ? low.map(({ each }) => each) : [], below };
}

/** A part of the drawing, shown by itself. */
function piece(name: string, ...box: number[]): SVGSVGElement {
  const made = document.createElementNS(SVG, "svg");
  made.setAttribute("viewBox", box.join(" "));
  made.setAttribute("class", name);
  made.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", "#all");
  made.append(use);
  return made;
}

/** Makes every letter in its ring a place to touch, larger than it looks. */
function letters(drawn: SVGSVGElement): void {
  for (const ring of drawn.querySelectorAll<SVGRectElement>("rect.pill")) {
    const letter = ring.nextElementSibling?.textContent?.trim();
    if (!letter) continue;
    ring.dataset.letter = letter;
    const place = document.createElementNS(SVG, "circle");
    const number = (name: string): number => Number(ring.getAttribute(name));
    place.setAttribute("class", "touch");
    place.setAttribute("cx", String(number("x") + number("width") / 2));
    place.setAttribute("cy", String(number("y") + number("height") / 2));
    place.setAttribute("r", "6");
    place.dataset.letter = letter;
    drawn.append(place);
  }
}

function rowOf(letter: string): HTMLElement | undefined {
  return all(".pick").find((row) => one(".letter", row)?.textContent?.trim() === letter);
}

function touched(target: Element): void {
  const letter = target.closest<SVGElement>(".touch")?.dataset.letter;
  const row = letter ? rowOf(letter) : undefined;
  if (!row) return;
  row.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
  row.classList.add("found");
  setTimeout(() => row.classList.remove("found"), 1600);
}

/** A row that has the pointer or the focus shows its letter in the picture. */
export function followPicture(): void {
  // A window is widened, a tablet is turned: the picture follows.
  NARROW.addEventListener("change", () => {
    for (const each of all(".picture-live")) if (each.shadowRoot) fit(each.shadowRoot);
  });
  const show = (event: Event): void => {
    const row = event.target instanceof Element ? event.target.closest<HTMLElement>(".pick") : null;
    const shadow = one(".picture-live")?.shadowRoot;
    if (!shadow) return;
    const letter = row ? one(".letter", row)?.textContent?.trim() : undefined;
    for (const ring of shadow.querySelectorAll<SVGElement>("rect.pill")) ring.classList.toggle("shown", letter !== undefined && ring.dataset.letter === letter);
  };
  document.addEventListener("pointerover", show, { passive: true });
  document.addEventListener("focusin", show);
  document.addEventListener("click", (event) => {
    const larger = (event.target as Element).closest<HTMLElement>("[data-larger]");
    if (larger) enlarge(larger.dataset.larger!, larger.dataset.says ?? "");
  });
}

function enlarge(address: string, says: string): void {
  const picture = make("img", { src: address, alt: says, class: "drawing" });
  const close = make("button", { type: "button", class: "button close leads", "data-close": "" }, "Back to the step");
  const sheet = make("dialog", { class: "large-picture", "aria-label": "The picture, larger" }, make("div", { class: "large-scroll", tabindex: "0" }, picture), close);
  sheet.addEventListener("close", () => sheet.remove());
  document.body.append(sheet);
  sheet.showModal();
}
