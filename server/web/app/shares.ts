// Shares: how many animals of a permit's number this phone may take without
// asking. They are asked for while there is a network and spent in the save of
// the find. A phone whose memory was copied or put back has none: the units
// that it may have used are known only to the phone it was.

import { core, type Purse } from "./core";
import { db, get, newId, type Device } from "./store";

const nothing: Purse = { holdings: [] };

// The purse lies in the store, and a mark of it outside: a store that was put
// back or copied is behind its mark or has none. A browser copied whole carries
// both; that shows at the next contact with the museum.
const place = "wayfall-shares";
interface Mark { dev: string; key: string; seq: number }

function mark(): Mark | undefined {
  try {
    return (JSON.parse(localStorage.getItem(place) ?? "null") ?? undefined) as Mark | undefined;
  } catch {
    return undefined;
  }
}

function writeMark(m: Mark): boolean {
  try {
    localStorage.setItem(place, JSON.stringify(m));
    return mark()?.key === m.key;
  } catch {
    return false;
  }
}

// A phone that lost its rights keeps these words in place of a key: nothing
// ever matches them again.
const gone = ["lost", "lost and told"];

const own = (dev: Device): boolean => {
  const m = mark();
  return m !== undefined && m.key === dev.fence && m.dev === dev.id && m.seq <= dev.seq;
};

/** sealed is the phone's row with its purse emptied for good if it is not its own. */
export function sealed(dev: Device): Device {
  if (!dev.fence || own(dev)) return dev;
  return { ...dev, purse: nothing, fence: gone.includes(dev.fence) ? dev.fence : gone[0] };
}

/** moved notes outside the store, after a save, how far this phone is. */
export function moved(dev: Device): void {
  const m = mark();
  if (m && dev.fence === m.key && m.dev === dev.id) writeMark({ ...m, seq: Math.max(m.seq, dev.seq) });
}

/** hasLost tells whether this phone had shares and lost its right to them. */
export const hasLost = (dev: Device): boolean => gone.includes(sealed(dev).fence ?? "");

async function alter(change: (dev: Device) => Device): Promise<Device> {
  const tx = (await db()).transaction("one", "readwrite", { durability: "strict" });
  const dev = change(sealed((await tx.store.get("device")) as Device));
  await tx.store.put(dev, "device");
  await tx.done;
  return dev;
}

/** forsake empties the purse for good. It returns whether the museum has yet to be told. */
export async function forsake(): Promise<boolean> {
  if (!(await get("device"))?.fence) return false;
  const dev = await alter((d) => ({ ...d, purse: nothing, fence: d.fence === gone[1] ? gone[1] : gone[0] }));
  return dev.fence === gone[0];
}

/** forsaken notes that the museum was told. */
export const forsaken = async (): Promise<void> => { await alter((d) => ({ ...d, fence: gone[1] })); };

/** ready prepares for asking: the mark first, then the purse. False if this browser keeps no mark; then it holds nothing. */
export async function ready(): Promise<boolean> {
  const dev = await get("device");
  if (dev?.fence) return true;
  const key = newId();
  const kept = dev !== undefined && writeMark({ dev: dev.id, key, seq: dev.seq });
  await alter((d) => ({ ...d, purse: d.purse ?? nothing, fence: kept ? key : undefined }));
  return kept;
}

/** take puts what the museum says this phone holds into the purse. Told twice, or late, it changes nothing. */
export async function take(grants: unknown): Promise<void> {
  await alter((d) => (hasLost(d) ? d : { ...d, purse: core.hear(d.purse ?? nothing, grants, d.id) }));
}

/** rest stops or resumes asking for shares. */
export const rest = async (resting: boolean): Promise<void> => { await alter((d) => ({ ...d, resting })); };
