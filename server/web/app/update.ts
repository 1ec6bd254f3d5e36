// New versions: fetched in the background, taken over only when the person
// asks and nothing is being typed.

import { draft } from "./draft";

let waiting: ServiceWorker | undefined;

/** newVersion says whether a new version may be offered now. */
export const newVersion = (): boolean => waiting !== undefined && draft() === undefined;

/** takeOver starts the new version. */
export function takeOver(): void {
  if (!newVersion()) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting?.postMessage("take over");
}

/** watchVersions registers the worker and calls found when a new one waits. */
export async function watchVersions(found: () => void): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  const reg = await navigator.serviceWorker.register("sw.js", { scope: "./", updateViaCache: "none" });
  const see = (): void => {
    if (reg.waiting && navigator.serviceWorker.controller) {
      waiting = reg.waiting;
      found();
    }
  };
  see();
  reg.addEventListener("updatefound", () => reg.installing?.addEventListener("statechange", see));
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible" && navigator.onLine) void reg.update().catch(() => undefined); });
}
