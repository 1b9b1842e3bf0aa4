/** The screen stays on while a step is shown, where the browser allows it (a secure address). */

import { stepHere } from "./dom";

let lock: WakeLockSentinel | null = null;

export async function keepAwake(): Promise<void> {
  if (!("wakeLock" in navigator)) return;
  const wanted = stepHere() !== "" && document.visibilityState === "visible";
  if (!wanted) {
    await lock?.release().catch(() => undefined);
    lock = null;
    return;
  }
  if (lock && !lock.released) return;
  lock = await navigator.wakeLock.request("screen").catch(() => null);
}

export function beginWake(): void {
  document.addEventListener("visibilitychange", () => void keepAwake());
}
