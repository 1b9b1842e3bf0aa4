/**
 * Going from page to page without waiting: neighbours are fetched ahead and put in place of the page shown.
 * What cannot be done so is an ordinary visit of the address.
 */

import { all, fact, one, setFact } from "./dom";
import { morph } from "./morph";

const MOST_KEPT = 12;
const LONGEST_WAIT_MS = 600;
/** The last entry of the log that the page shown had heard of when the bench made it. */
let shownSeq = Number(fact("seq")) || 0;
/** Waits until what was said has reached the log; set by whoever sends. */
let sent: () => Promise<void> = () => Promise.resolve();
const ahead = new Map<string, Promise<Document | null>>();
const arrived: ((fresh: boolean) => void)[] = [];

export function seqShown(): number {
  return shownSeq;
}

export function waitFor(sending: () => Promise<void>): void {
  sent = sending;
}

/** Called after a page came (`fresh`) or parts of it were renewed. */
export function onPage(listener: (fresh: boolean) => void): void {
  arrived.push(listener);
}

export function tellPage(fresh: boolean): void {
  for (const listener of arrived) listener(fresh);
}

async function fetched(address: string): Promise<Document | null> {
  try {
    const answer = await fetch(address, { credentials: "same-origin", headers: { Accept: "text/html" } });
    if (!answer.ok || !(answer.headers.get("Content-Type") ?? "").startsWith("text/html")) return null;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    return one("#page", page) ? page : null;
  } catch {
    return null;
  }
}

/** Fetches a page before anybody asks for it, and its picture with it. */
export function preload(address: string): void {
  if (ahead.has(address)) return;
  const page = fetched(address);
  ahead.set(address, page);
  if (ahead.size > MOST_KEPT) ahead.delete(ahead.keys().next().value!);
  void page.then((found) => {
    if (!found) ahead.delete(address);
    else for (const picture of all<HTMLImageElement>(".picture-frame img", found)) void fetch(picture.getAttribute("src")!);
  });
}

/** Forgets what was fetched ahead: the log or the machine has changed. */
export function forget(): void {
  ahead.clear();
}

/** The pages before and after this one; they are asked for when the page itself has come to rest. */
export function preloadNeighbours(): void {
  const rest = (work: () => void): void => {
    if ("requestIdleCallback" in window) requestIdleCallback(work, { timeout: 1200 });
    else setTimeout(work, 250);
  };
  rest(() => {
    for (const link of all<HTMLAnchorElement>("a[data-ahead]")) preload(pathOf(link.href));
  });
}

function pathOf(address: string): string {
  const url = new URL(address, location.href);
  return url.pathname + url.search;
}

/** Shows the page of this address. `back`: the browser's own step back or forth, which keeps its history. */
export async function go(address: string, back = false): Promise<void> {
  const url = new URL(address, location.href);
  const path = pathOf(url.href);
  // Lists and figures are made of the log: what has just been said goes ahead. Steps are there at once.
  if (!path.startsWith("/step/")) await Promise.race([sent(), new Promise((done) => setTimeout(done, LONGEST_WAIT_MS))]);
  const page = (await (ahead.get(path) ?? fetched(path))) ?? (await fetched(path));
  ahead.delete(path);
  if (!page) {
    // Without the bench this page stays: what is on it can still be worked with.
    if (await reachable()) location.assign(url.href);
    else document.dispatchEvent(new CustomEvent("bench-away"));
    return;
  }
  if (!back) history.pushState(null, "", url.href);
  put(page);
  const aim = url.hash ? document.getElementById(decodeURIComponent(url.hash.slice(1))) : null;
  if (aim) aim.scrollIntoView();
  else window.scrollTo(0, 0);
  const head = one("#page h1");
  if (head) {
    head.tabIndex = -1;
    head.focus({ preventScroll: true });
  }
  tellPage(true);
  if (shownSeq < Number(fact("seq"))) void renew();
}

async function reachable(): Promise<boolean> {
  try {
    await fetch(location.pathname, { method: "HEAD", cache: "no-store" });
    return true;
  } catch {
    return false;
  }
}

function put(page: Document): void {
  document.title = page.title;
  shownSeq = Number(fact("seq", page)) || 0;
  for (const name of ["token", "seq", "version", "device"]) {
    const value = fact(name, page);
    if (name === "seq" && Number(value) < Number(fact("seq"))) continue;
    if (value) setFact(name, value);
  }
  for (const part of ["#page", "#rule", "#thumb"]) {
    const now = one(part);
    const next = one(part, page);
    if (now && next) now.replaceWith(next);
    else if (now) now.remove();
    else if (next) document.body.append(next);
  }
}

let renewing: Promise<void> | null = null;
let again = false;

/** Renews the marked parts (`data-live`) of the page shown, but none in which somebody is just typing. */
export function renew(): Promise<void> {
  if (renewing) {
    again = true;
    return renewing;
  }
  renewing = renewOnce().finally(() => {
    renewing = null;
    if (again) {
      again = false;
      void renew();
    }
  });
  return renewing;
}

async function renewOnce(): Promise<void> {
  const address = location.pathname + location.search;
  const page = await fetched(address);
  if (!page || address !== location.pathname + location.search) return;
  const seq = Number(fact("seq", page)) || 0;
  if (seq < shownSeq) return;
  shownSeq = seq;
  if (seq >= Number(fact("seq"))) setFact("seq", String(seq));
  setFact("version", fact("version", page));
  for (const now of all("[data-live]")) {
    const next = one(`[data-live="${CSS.escape(now.dataset.live!)}"]`, page);
    if (next && !isInUse(now)) morph(now, document.importNode(next, true));
  }
  tellPage(false);
}

function isInUse(part: Element): boolean {
  if (part.querySelector("dialog[open]")) return true;
  return all<HTMLInputElement>("input[type=text], textarea", part).some((field) => field.value !== field.defaultValue);
}

/** Follows links to our own pages without leaving this one. */
export function followLinks(): void {
  document.addEventListener("click", (event) => {
    if (event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    const link = (event.target as Element).closest<HTMLAnchorElement>("a[href]");
    if (!link || link.target || link.hasAttribute("download") || link.origin !== location.origin) return;
    if (/\.[a-z0-9]+$/.test(link.pathname) || link.dataset.plain !== undefined) return;
    if (link.pathname === location.pathname && link.hash) return;
    event.preventDefault();
    void go(link.href);
  });
  document.addEventListener("pointerenter", aheadOf, { capture: true, passive: true });
  document.addEventListener("touchstart", aheadOf, { capture: true, passive: true });
  let shown = location.pathname + location.search;
  window.addEventListener("popstate", () => {
    const path = location.pathname + location.search;
    if (path !== shown) void go(location.href, true);
  });
  onPage(() => (shown = location.pathname + location.search));
}

/** A link that the finger comes near is fetched at once. */
function aheadOf(event: Event): void {
  const target = event.target;
  if (!(target instanceof Element)) return;
  const link = target.closest<HTMLAnchorElement>("a[href]");
  if (link && link.origin === location.origin && !link.target && link.pathname.startsWith("/step/") && !/\.[a-z0-9]+$/.test(link.pathname)) {
    preload(pathOf(link.href));
  }
}
