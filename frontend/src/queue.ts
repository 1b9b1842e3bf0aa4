/**
 * What is said at the bench goes here first, then to the bench's log: each event has an id of its own, so that it
 * arrives exactly once however often it is sent. Nothing is dropped before the log has answered for it.
 */

import { fact, newId, setFact } from "./dom";
import { openStore, type BenchEvent, type Store, type Waiting } from "./waiting";

const MOST_AT_ONCE = 50;
const RETRY_MS = [800, 2000, 5000, 10000];

export interface Said {
  step?: string | null;
  subject?: string | null;
  data?: Record<string, unknown>;
  file?: Blob;
  name?: string;
}

export interface Arrived {
  event: BenchEvent;
  seq: number;
}

type Listener = (rows: readonly Waiting[], trouble: string) => void;

let store: Promise<Store> | null = null;
let sending: Promise<void> | null = null;
let again = false;
let tries = 0;
let timer: number | undefined;
let trouble = "";
/** How many events are on their way into the queue. */
let putting = 0;
const listeners: Listener[] = [];
const arrivals: ((rows: readonly Arrived[]) => void)[] = [];

function rows(): Promise<Store> {
  return (store ??= openStore(fact("machine")));
}

/** What waits now. */
export async function waiting(): Promise<Waiting[]> {
  return (await rows()).every();
}

/** Called with all that waits after every change. */
export function onWaiting(listener: Listener): void {
  listeners.push(listener);
}

/** Called with what the log has just answered for. */
export function onArrived(listener: (rows: readonly Arrived[]) => void): void {
  arrivals.push(listener);
}

let known: readonly Waiting[] = [];
const puts = new Set<Waiting>();

/** What waits as far as is known at once, what is just being put into the queue included. */
export function waitingNow(): readonly Waiting[] {
  return [...known, ...puts];
}

/** Says something; resolves with the event's id when it is safely in the queue. */
export async function say(kind: string, said: Said = {}): Promise<string> {
  const event: BenchEvent = {
    id: newId(),
    kind,
    step: said.step ?? null,
    subject: said.subject ?? null,
    at: new Date().toISOString(),
    data: said.data ?? {},
    seen: Number(fact("seq")) || 0,
  };
  const row: Waiting = { event };
  if (said.file) row.file = said.file;
  if (said.name) row.name = said.name;
  putting++;
  puts.add(row);
  document.documentElement.dataset.saying = "yes";
  try {
    await (await rows()).add(row);
  } finally {
    putting--;
    puts.delete(row);
  }
  known = [...known, row];
  await tell();
  void send();
  return event.id;
}

/** Takes back what waits; false when it has gone out already and an undo must be said instead. */
export async function unsay(id: string): Promise<boolean> {
  if (sending) await sending.catch(() => undefined);
  const here = (await waiting()).some((row) => row.event.id === id);
  if (here) {
    await (await rows()).drop([id]);
    await tell();
  }
  return here;
}

/** Gives up the first of what the bench has refused, which is the one that the page tells of. */
export async function giveUp(): Promise<void> {
  const here = await rows();
  const first = (await here.every()).find((row) => row.refused);
  if (first) await here.drop([first.event.id]);
  await tell();
}

/** Sends all that waits, in order; a second call while it runs makes it look once more. */
export function send(): Promise<void> {
  if (sending) {
    again = true;
    return sending;
  }
  window.clearTimeout(timer);
  sending = sendAll().finally(() => {
    sending = null;
    if (again) {
      again = false;
      void send();
    }
  });
  return sending;
}

async function sendAll(): Promise<void> {
  const here = await rows();
  for (;;) {
    const ready = (await here.every()).filter((row) => !row.refused);
    if (!ready.length) break;
    try {
      const first = ready[0]!;
      if (first.file) {
        await sendFile(here, first);
      } else {
        const until = ready.findIndex((row) => row.file);
        await sendEvents(here, ready.slice(0, Math.min(until < 0 ? ready.length : until, MOST_AT_ONCE)));
      }
      tries = 0;
      trouble = "";
    } catch (error) {
      trouble = error instanceof Refused ? error.message : "";
      const wait = RETRY_MS[Math.min(tries++, RETRY_MS.length - 1)]!;
      timer = window.setTimeout(() => void send(), wait);
      break;
    }
    await tell();
  }
  await tell();
}

/** The bench is there and does not take it from this device. */
class Refused extends Error {}

async function post(path: string, body: BodyInit, type: string, more: Record<string, string> = {}): Promise<Response> {
  const answer = await fetch(path, {
    method: "POST",
    body,
    credentials: "same-origin",
    headers: { "Content-Type": type, "X-Trysquare-Token": fact("token"), ...more },
  });
  if (answer.status === 401) throw new Refused("This device has to join again before the bench takes what waits.");
  if (answer.status === 403) {
    await renewToken();
    throw new Refused("The bench was started anew; trying again.");
  }
  if (answer.status >= 500 || answer.status === 429) throw new Error(String(answer.status));
  return answer;
}

/** The token of a bench that was started anew stands in its pages. */
async function renewToken(): Promise<void> {
  const page = await fetch("/", { credentials: "same-origin", headers: { Accept: "text/html" } });
  const token = fact("token", new DOMParser().parseFromString(await page.text(), "text/html"));
  if (token) setFact("token", token);
}

async function sendEvents(here: Store, batch: readonly Waiting[]): Promise<void> {
  const body = JSON.stringify({ events: batch.map((row) => row.event) });
  const answer = await post("/log", body, "application/json");
  if (!answer.ok) {
    // One bad event must not hold up the others: sent one by one, only that one stays, with the reason.
    if (batch.length > 1) {
      for (const row of batch) await sendEvents(here, [row]);
      return;
    }
    await here.put({ ...batch[0]!, refused: (await said(answer)) || `refused (${answer.status})` });
    return;
  }
  const facts = (await answer.json()) as { logged?: { id: string; seq: number }[] };
  const logged = facts.logged ?? [];
  const ids = logged.map((row) => row.id);
  // What lies between is another device's and not on this page yet: then the page is renewed before it counts as seen.
  let last = Number(fact("seq")) || 0;
  for (const seq of logged.map((row) => row.seq).sort((a, b) => a - b)) if (seq === last + 1) last = seq;
  setFact("seq", String(last));
  const number = new Map(logged.map((row) => [row.id, row.seq]));
  const arrived = batch.filter((row) => number.has(row.event.id)).map((row) => ({ event: row.event, seq: number.get(row.event.id)! }));
  for (const listener of arrivals) listener(arrived);
  await here.drop(ids);
}

async function sendFile(here: Store, row: Waiting): Promise<void> {
  const file = row.file!;
  const suffix = suffixOf(row.name ?? "", file.type);
  const answer = await post("/files", file, file.type || "application/octet-stream", {
    "X-Trysquare-Suffix": suffix,
    ...(row.event.kind === "photo" && { "X-Trysquare-Sort": "photo" }),
  });
  if (!answer.ok) {
    await here.put({ ...row, refused: (await said(answer)) || `refused (${answer.status})` });
    return;
  }
  const facts = (await answer.json()) as { sha256: string; suffix?: string; bytes?: number };
  const data = { ...row.event.data, sha256: facts.sha256, suffix: facts.suffix ?? suffix, bytes: facts.bytes ?? file.size };
  const next: Waiting = { event: { ...row.event, data } };
  if (row.n !== undefined) next.n = row.n;
  await here.put(next);
}

function suffixOf(name: string, type: string): string {
  const own = /\.[a-z0-9]{1,8}$/i.exec(name)?.[0]?.toLowerCase();
  if (own) return own;
  const known: Record<string, string> = {
    "image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "audio/webm": ".webm", "audio/ogg": ".ogg",
    "audio/mp4": ".m4a", "audio/wav": ".wav", "text/csv": ".csv",
  };
  return known[type.split(";")[0] ?? ""] ?? ".bin";
}

async function said(answer: Response): Promise<string> {
  const text = await answer.text().catch(() => "");
  try {
    const facts = JSON.parse(text) as { error?: unknown; message?: unknown; says?: unknown };
    const words = facts.says ?? facts.message ?? facts.error;
    return typeof words === "string" ? words : "";
  } catch {
    return text.slice(0, 300);
  }
}

async function tell(): Promise<void> {
  const now = await waiting();
  known = now;
  if (!now.length && !putting) delete document.documentElement.dataset.saying;
  for (const listener of listeners) listener(now, trouble);
}

/** Begins to send what an earlier page left, and again whenever the network comes back. */
export function beginSending(): void {
  window.addEventListener("online", () => {
    tries = 0;
    void send();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") void send();
  });
  void tell();
  void send();
}
