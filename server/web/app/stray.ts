// When this phone's chain can go no further: its store was copied, put back
// from an older copy, or partly cleared. There is one way on, and it loses
// nothing: the phone takes a new number, and every save that has no effect at
// the museum is saved again under it, with its own time and its own hand.

import { core, type OpDraft } from "./core";
import { enrol } from "./session";
import { db, get, newId, type Device, type Kept } from "./store";

/** Stray says why the chain ends here; "" if it does not. */
export type Stray = "" | "frozen" | "old" | "holes" | "other" | "copied";

/** stranded tells whether a save has no effect at the museum and will get none. */
export const stranded = (k: Kept): boolean => !k.sent || k.receipt?.code === "equivocation" || k.receipt?.code === "frozen";

interface Written {
  wall: { ms: number; tz?: string }; actor: string; scope: string; base?: number;
  on: OpDraft["on"];
}

type Group = OpDraft["on"][number];

// Shares were the old number's, and it gave up what it may have used of them:
// under the new one the animal is recorded without a share.
const shares = ["spent", "returned"];

/** Moved says where a save went, and which place each of its acts has there. */
interface Moved { seq: number; places: number[] }

function withoutShares(on: Group[]): { on: Group[]; places: number[] } {
  let n = 0;
  const places: number[] = [];
  const kept = on.map((g) => ({ ...g, acts: g.acts.filter((a) => {
    const stays = !(a.k === "evt" && shares.includes(a.f));
    places.push(stays ? n++ : -1);
    return stays;
  }) }));
  return { on: kept.filter((g) => g.acts.length > 0), places };
}

// A device's newer value covers its own older ones without saying so. Under the
// new number the old ones are another device's, so they are named.
function remade(k: Kept, settled: string[], old: Device, dev: Device, moved: Map<string, Moved>): { dev: Device; kept: Kept } | undefined {
  const o = JSON.parse(k.op) as Written;
  const known = core.fold(settled);
  const now = (dot: string): string => {
    const [who, seq, index] = dot.split(":");
    const to = who === old.id ? moved.get(seq ?? "") : undefined;
    return to ? `${dev.id}:${to.seq}:${to.places[Number(index)] ?? index}` : dot;
  };
  const left = withoutShares(o.on);
  if (left.on.length === 0) return undefined;
  const on = left.on.map((g) => ({ ...g, acts: g.acts.map((a) => {
    if (a.k !== "set" && a.k !== "rem") return a;
    const before = a.k === "set" ? (known[`${g.kind} ${g.id}`]?.fields[a.f]?.all ?? []).map((s) => s.dot) : [];
    return { ...a, saw: [...new Set([...(a.saw ?? []).map(now), ...before])] };
  }) }));
  const seq = dev.seq + 1;
  const made = core.op({
    dev: dev.id, seq, link: dev.link, clock: dev.clock, now_ms: o.wall.ms, tz: o.wall.tz ?? "", actor: o.actor, scope: o.scope,
    ...(o.base ? { base: o.base } : {}), on,
  });
  moved.set(String(k.seq), { seq, places: left.places });
  return { dev: { ...dev, seq, link: made.link, clock: made.clock }, kept: { seq, op: made.op, link: made.link, find: k.find, at: k.at, sent: 0 } };
}

/** beginAnew gives the phone a new number with a code from the museum and saves
 * again what has no effect yet. It returns how many saves that were. Until the
 * museum has answered, and if anything fails, everything stays as it was. */
export async function beginAnew(code: string): Promise<number> {
  return navigator.locks.request("wayfall-send", async () => {
    const id = newId();
    const { session, prefix } = await enrol(code, id);
    const tx = (await db()).transaction(["one", "ops", "past"], "readwrite", { durability: "strict" });
    const [one, ops, past] = [tx.objectStore("one"), tx.objectStore("ops"), tx.objectStore("past")];
    const old = (await one.get("device")) as Device;
    const all = await ops.getAll();
    let dev: Device = { id, seq: 0, link: core.genesis(id), clock: "", nextTag: 1, prefix, ...(old.base ? { base: old.base } : {}) };
    const moved = new Map<string, Moved>();
    const fresh: Kept[] = [];
    for (const k of all) {
      if (!stranded(k)) continue;
      const settled = all.filter((p) => p.find === k.find && p.seq < k.seq && !stranded(p)).map((p) => p.op);
      const next = remade(k, settled, old, dev, moved);
      if (!next) continue;
      dev = next.dev;
      fresh.push(next.kept);
    }
    for (const k of all) await past.put({ ...k, dev: old.id, again: moved.get(String(k.seq))?.seq ?? 0 });
    await ops.clear();
    for (const k of fresh) await ops.put(k);
    await one.put(dev, "device");
    await one.put(session, "session");
    await one.delete("stray");
    await tx.done;
    mark(id);
    return fresh.length;
  });
}

// A mark outside the store tells an emptied store from a new phone.
const place = "wayfall-phone";
const mark = (id: string): void => { try { localStorage.setItem(place, id); } catch { /* no room for a mark: then nothing is told */ } };

/** wasEmptied tells whether this browser had a store here that is gone now. */
export function wasEmptied(id: string): boolean {
  try {
    const before = localStorage.getItem(place);
    return before !== null && before !== id;
  } catch {
    return false;
  }
}

/** settled marks that this phone is known to the museum under its number. */
export const settled = async (): Promise<void> => { const dev = await get("device"); if (dev) mark(dev.id); };
