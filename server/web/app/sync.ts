// Sending and fetching. Nothing here can lose a find: an operation leaves the
// list of unsent ones only by a receipt of its own, and is kept even then.

import { core, type KitFacts } from "./core";
import { NetError } from "./net";
import { hex } from "./photos";
import { hearAll } from "./heard";
import { learnNames } from "./plain";
import { giveBack } from "./save";
import { authed, device } from "./session";
import { forsake, forsaken, hasLost, ready, take } from "./shares";
import { settled, type Stray } from "./stray";
import { db, drop, get, set, tally, type Device, type Kept, type Receipt } from "./store";

export type State = "idle" | "sending" | "offline" | "portal" | "sign-in" | "trouble";

/** What the top bar and the sending page show. */
export interface Status { state: State; unsent: number; photos: number; said: string; stray: Stray; next?: number; last?: number }

export const status: Status = { state: "idle", unsent: 0, photos: 0, said: "", stray: "" };

const listeners = new Set<() => void>();

/** onStatus calls f whenever the status changes. */
export const onStatus = (f: () => void): void => { listeners.add(f); };

async function tell(change: Partial<Status>): Promise<void> {
  Object.assign(status, change, await tally());
  for (const f of listeners) f();
}

/** recount brings the numbers up to date after a save. */
export const recount = (): Promise<void> => tell({});

let tries = 0;
let timer: ReturnType<typeof setTimeout> | undefined;

/** send sends what waits, now. Two calls at once become one. */
export async function send(): Promise<void> {
  clearTimeout(timer);
  if (!(await get("session"))) return tell({ state: "sign-in", said: "" });
  await navigator.locks.request("wayfall-send", { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    await tell({ state: "sending", said: "" });
    try {
      await round();
      tries = 0;
      await tell({ state: "idle", last: Date.now(), next: undefined });
    } catch (e) {
      await failed(e);
    }
  });
}

async function round(): Promise<void> {
  await pushAll();
  await sendPhotos();
  const odd = await askForShares().then(() => undefined, (e: unknown) => e);
  if (odd instanceof NetError && odd.gone !== "server" && odd.gone !== "refused") throw odd;
  const today = await fetchKit();
  if (odd) throw odd; // the rules are here all the same
  if (today && !status.stray && (await giveBack(today))) await pushAll();
  await hearAll();
}

// Shares are filled up at every contact; the museum says by how much. Asked
// again after an answer that was lost, it says the same.
async function askForShares(): Promise<void> {
  const dev = await device();
  if (status.stray || hasLost(dev)) {
    if (await forsake()) await saySharesAreLost(dev.id);
    if (!status.stray) await goneStray("copied");
    return;
  }
  if (dev.resting || !(await ready())) return;
  try {
    const { grants } = (await (await grantsOf(dev.id, dev.seq + 1)).json()) as { grants: unknown };
    await take(grants);
  } catch (e) {
    if (!(e instanceof NetError) || (e.status !== 404 && e.status !== 409)) throw e;
    if (e.status === 404) return; // an older server lends nothing
    await forsake();
    await forsaken();
    await goneStray("copied");
  }
}

const grantsOf = (dev: string, next: number): Promise<Response> => authed("/v1/grants", {
  method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ device: dev, next_seq: next }),
});

// With no count of its own saves a phone says that it does not know what it
// spent; the museum then takes everything it was lent as used, and refuses.
async function saySharesAreLost(dev: string): Promise<void> {
  try {
    await grantsOf(dev, 0);
  } catch (e) {
    if (!(e instanceof NetError) || e.gone !== "refused" || e.status === 401) throw e;
  }
  await forsaken();
}

// Waits double from five seconds to ten minutes, and differ between phones so
// that a crew coming into range does not knock all at once.
async function failed(e: unknown): Promise<void> {
  const net = e instanceof NetError ? e : undefined;
  const state: State = net?.status === 401 ? "sign-in" : net?.gone === "offline" ? "offline" : net?.gone === "portal" ? "portal" : "trouble";
  const said = e instanceof Error ? e.message : String(e);
  if (!net) console.error(e);
  const wait = Math.min(600_000, 5_000 * 2 ** tries++) * (0.75 + Math.random() / 2);
  timer = setTimeout(() => void send(), wait);
  await tell({ state, said, next: Date.now() + wait });
}

interface Welcome { expected_seq: number; head: string; incarnation: string; frozen?: boolean }

// A server that was put back from a copy may have lost what it had set aside,
// and may have taken another story of this phone for the first. What was set
// aside is offered again, and everything if the chains are not the same.
async function newLife(welcome: Welcome): Promise<void> {
  const tx = (await db()).transaction(["ops", "one"], "readwrite", { durability: "strict" });
  const [ops, one] = [tx.objectStore("ops"), tx.objectStore("one")];
  const before = await one.get("life");
  if (before !== welcome.incarnation) {
    const last = welcome.expected_seq - 1;
    const same = last === 0 || (await ops.get(last))?.link === welcome.head;
    for (const k of before === undefined ? [] : await ops.getAll()) {
      if (k.sent && (!same || !k.receipt?.lsn)) await ops.put({ ...k, sent: 0 });
    }
    await one.put(welcome.incarnation, "life");
  }
  await tx.done;
}

/** goneStray notes that this phone's chain can go no further as it is, or that it can again. */
export async function goneStray(why: Stray): Promise<void> {
  if (why) await set("stray", why);
  else if (status.stray) await drop("stray");
  await tell({ stray: why });
}

// Pushes from where the server stands. A server that was restored asks for
// operations it once had; they are all still here. A save whose receipt was
// lost on the way is offered again, and its receipt comes again.
async function pushAll(): Promise<void> {
  const dev = await device();
  const answer = await authed("/v1/sync/hello", {
    method: "POST", headers: { "content-type": "application/json" },
    body: JSON.stringify({ dev: dev.id, next_seq: dev.seq + 1, head: dev.link, schema: 1, now: Date.now() }),
  });
  const welcome = (await answer.json()) as Welcome;
  await newLife(welcome);
  await settled();
  const waits = await (await db()).getAllKeysFromIndex("ops", "sent", 0);
  if (welcome.frozen) return goneStray("frozen");
  if (waits.length === 0 && welcome.expected_seq > dev.seq + 1) return goneStray("old");
  if (status.stray !== "other" && status.stray !== "copied") await goneStray("");
  let from = Math.min(welcome.expected_seq, ...waits);
  let size = 200;
  for (let again = 0; from <= dev.seq; ) {
    const batch = await (await db()).getAll("ops", IDBKeyRange.lowerBound(from), size);
    if (batch[0]?.seq !== from) return goneStray("holes");
    try {
      await pushBatch(dev, batch);
      if (status.stray && status.stray !== "copied") return;
      from = (batch[batch.length - 1] as Kept).seq + 1;
    } catch (e) {
      const expected = e instanceof NetError && e.status === 409 ? (e.body as { expected?: number } | undefined)?.expected : undefined;
      if (e instanceof NetError && e.status === 413 && size > 1) size = Math.ceil(size / 2);
      else if (expected && again++ < 2) from = expected;
      else throw e;
    }
  }
}

async function pushBatch(dev: Device, batch: Kept[]): Promise<void> {
  const first = batch[0] as Kept;
  const last = batch[batch.length - 1] as Kept;
  const before = first.seq === 1 ? core.genesis(dev.id) : (await (await db()).get("ops", first.seq - 1))?.link;
  if (!before) return goneStray("holes");
  const head = JSON.stringify({ push: 1, dev: dev.id, first: first.seq, link: before, head: last.link, n: batch.length });
  const [body, packed] = await pack([head, ...batch.map((k) => k.op)].join("\n") + "\n");
  const answer = await authed("/v1/sync/push", {
    method: "POST", headers: { "content-type": "application/x-ndjson", ...(packed ? { "content-encoding": "gzip" } : {}) }, body,
  }, 60_000);
  const receipts = lines(await answer.text()).map((line) => JSON.parse(line) as Receipt);
  if (receipts.length !== batch.length) throw new NetError("server", "The answer was cut short. Everything stays on this phone and is sent again.");
  await settle(receipts);
}

const lines = (text: string): string[] => text.split("\n").filter((line) => line !== "");

async function pack(text: string): Promise<[BodyInit, boolean]> {
  if (typeof CompressionStream === "undefined") return [text, false];
  const packed = new Response(text).body?.pipeThrough(new CompressionStream("gzip"));
  return packed ? [await new Response(packed).blob(), true] : [text, false];
}

async function settle(receipts: Receipt[]): Promise<void> {
  const frozen = receipts.some((r) => r.code === "equivocation" || r.code === "frozen");
  const tx = (await db()).transaction(["ops", "one"], "readwrite");
  const ops = tx.objectStore("ops");
  const one = tx.objectStore("one");
  const dev = (await one.get("device")) as Device;
  for (const r of receipts) {
    if (!r.seq || !r.effect || (r.dev && r.dev !== dev.id)) continue;
    const kept = await ops.get(r.seq);
    if (kept) await ops.put({ ...kept, sent: 1, sentAt: kept.sentAt ?? Date.now(), receipt: r });
  }
  const newest = Math.max(dev.base ?? 0, ...receipts.map((r) => r.lsn ?? 0));
  if (newest > 0) await one.put({ ...dev, base: newest }, "device");
  await tx.done;
  if (frozen) await goneStray("frozen");
  else await tell({});
}

function base64(hexText: string): string {
  return btoa(String.fromCharCode(...(hexText.match(/../g) ?? []).map((x) => parseInt(x, 16))));
}

// A photo follows its record. One that the server cannot open is not sent for
// ever: the answer is kept beside it and shown.
async function sendPhotos(): Promise<void> {
  const d = await db();
  const known = new Set(await d.getAllKeys("finds"));
  for (const p of await d.getAllFromIndex("photos", "sent", 0)) {
    if (!known.has(p.find)) continue;
    try {
      await authed(`/v1/photos/${p.sha256}`, {
        method: "PUT", body: p.bytes,
        headers: { "content-type": p.type, "content-digest": `sha-256=:${base64(p.sha256)}:` },
      }, 120_000);
      await d.put("photos", { ...p, sent: 1 });
    } catch (e) {
      if (!(e instanceof NetError) || (e.status !== 422 && e.status !== 413)) throw e;
      await d.put("photos", { ...p, sent: 1, said: e.message });
    }
    await tell({});
  }
}

let facts: KitFacts | undefined;

/** kitFacts says what rules the phone holds; nothing before they are loaded. */
export const kitFacts = (): KitFacts | undefined => facts;

/** loadKit hands the kept rules and borders to the core. */
export async function loadKit(): Promise<void> {
  const [kit, region] = [await get("kit"), await get("region")];
  if (kit) {
    facts = core.load(kit.text);
    learnNames(kit.text);
  }
  if (region) core.region(new Uint8Array(region.bytes));
}

/** fetchKit fetches the rules, and returns the day by the museum's clock. */
async function fetchKit(): Promise<string | undefined> {
  const old = await get("kit");
  const asked = Date.now();
  const answer = await authed("/v1/field-kit", { headers: old?.etag ? { "if-none-match": old.etag } : {} }, 60_000);
  if (answer.status !== 304) {
    const text = await answer.text();
    facts = core.load(text);
    learnNames(text);
    await set("kit", { etag: answer.headers.get("etag") ?? "", text, at: asked });
  }
  await fetchRegion();
  return facts?.as_of;
}

/** loadTowns hands the list of towns to the core; words then become places. */
export async function loadTowns(): Promise<void> {
  const answer = await fetch("places.bin");
  if (answer.ok) core.places(new Uint8Array(await answer.arrayBuffer()));
}

interface RegionNote { region?: { url?: string; digest?: string } }

async function fetchRegion(): Promise<void> {
  const kit = await get("kit");
  const note = kit ? (JSON.parse(kit.text) as RegionNote).region : undefined;
  if (!note?.url || !note.digest || (await get("region"))?.digest === note.digest) return;
  const answer = await fetch(note.url, { credentials: "omit" });
  if (!answer.ok) return;
  const bytes = await answer.arrayBuffer();
  if (hex(await crypto.subtle.digest("SHA-256", bytes)) !== note.digest) return; // not whole: asked for again next time
  core.region(new Uint8Array(bytes));
  await set("region", { digest: note.digest, bytes });
}

/** keepSending sends on start, when the network returns and when the page is shown again. */
export function keepSending(): void {
  const again = (): void => { tries = 0; void send(); };
  addEventListener("online", again);
  addEventListener("offline", () => void tell({ state: "offline", said: "No network. Everything stays on this phone." }));
  addEventListener("pageshow", again);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") again(); });
}
