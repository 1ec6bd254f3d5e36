// Saving: one touch becomes one operation. The operation, the chain it
// continues, the find and the removal of the draft are one transaction.

import { core, type Covered, type Folded, type OpDraft, type Purse, type Verdict } from "./core";
import { fieldsOf, forgetDraft } from "./draft";
import { zone } from "./moments";
import { linkOf, picturesOf } from "./photos";
import { moved, sealed } from "./shares";
import { db, get, heardOf, newId, opsOf, type Device, type Find, type Picture, type Session } from "./store";
import type { Draft, Fields } from "./words";

type Acts = OpDraft["on"][number]["acts"];

const went: Record<string, string> = { taken: "private_freezer", left: "left", agency: "agency", vanished: "vanished" };

// Only what goes into a bag, or to somebody else, carries a tag.
const tagged = (d: Draft): boolean => d.deed === "taken" || d.deed === "agency";

/** Plan is everything a save will write, worked out before the transaction. */
interface Plan { find: Find; on: OpDraft["on"] }

/** tagsFor says which tags the next animals of this phone will carry. */
export async function tagsFor(count: number): Promise<string[]> {
  const dev = await get("device");
  if (!dev?.prefix) return [];
  return Array.from({ length: Math.max(1, count) }, (_, i) => core.tag(dev.prefix, dev.nextTag + i));
}

function reportActs(fields: Fields, animals: Find["animals"], photos: Picture[], verdict: Verdict | undefined, remark: string | undefined, spent: unknown[]): Acts {
  const acts: Acts = Object.entries(fields)
    .filter(([, val]) => val !== undefined && val !== "")
    .map(([f, val]) => ({ k: "set", f, val }));
  for (const a of animals) acts.push({ k: "add", f: "animals", val: a.id });
  for (const p of photos) acts.push({ k: "add", f: "photos", val: linkOf(p) });
  if (remark) acts.push({ k: "evt", f: "remarks", val: { text: remark } });
  if (verdict) acts.push({ k: "evt", f: "verdicts", val: verdict });
  for (const val of spent) acts.push({ k: "evt", f: "spent", val });
  return acts;
}

function plan(d: Draft, verdict: Verdict | undefined, spent: unknown[], session: Session, tags: string[], photos: Picture[], now: number, place: string): Plan {
  const fields = fieldsOf(d, now);
  fields.salvager = session.person.id;
  if (tags[0]) fields.fieldno = tags[0];
  const relied = verdict?.relies?.[0]?.authority;
  if (relied && d.deed === "taken") fields.authority = relied;
  const animals = Array.from({ length: Math.max(1, d.count ?? 1) }, (_, i) => ({ id: newId(), tag: tags[i] ?? "" }));
  const on: OpDraft["on"] = [{ id: d.id, kind: "report", acts: reportActs(fields, animals, photos, verdict, d.remark, spent) }];
  for (const a of animals) {
    const acts: Acts = [];
    if (a.tag) acts.push({ k: "add", f: "tags", val: a.tag });
    if (fields.taxon) acts.push({ k: "set", f: "taxon", val: fields.taxon });
    const to = went[d.deed ?? ""];
    if (to) acts.push({ k: "set", f: "disposition", val: to });
    if (acts.length > 0) on.push({ id: a.id, kind: "animal", acts });
  }
  const find: Find = {
    id: d.id, made: now, fields, english: d.english ?? "", asked: d.english ?? "", animals, verdict, place,
    photos: photos.map((p) => p.sha256), remarks: d.remark ? [d.remark] : [],
  };
  return { find, on };
}

/** append puts one more operation on this phone's chain, inside an open transaction. */
function append(dev: Device, session: Session, on: OpDraft["on"], now: number): { dev: Device; op: string; link: string } {
  const made = core.op({
    dev: dev.id, seq: dev.seq + 1, link: dev.link, clock: dev.clock, now_ms: now, tz: zone(now),
    actor: session.person.id, scope: session.institution.id, base: dev.base, on,
  });
  return { dev: { ...dev, seq: dev.seq + 1, link: made.link, clock: made.clock }, op: made.op, link: made.link };
}

/** saveFind writes the find, its operation and what it uses of this phone's
 * shares, and only then returns. It is judged by the purse of that moment, so
 * that two pages at once use no unit twice. */
export async function saveFind(d: Draft, judge: (purse: Purse | undefined) => Covered | undefined, place: string): Promise<Find> {
  const session = await get("session");
  if (!session) throw new Error("Sign in first: a find needs to know whose it is. What you typed is kept.");
  const photos = await picturesOf(d.id);
  const now = Date.now();
  const tx = (await db()).transaction(["one", "ops", "finds", "photos"], "readwrite", { durability: "strict" });
  const one = tx.objectStore("one");
  const dev = sealed((await one.get("device")) as Device);
  const judged = judge(dev.purse);
  const used = d.deed === "taken" ? judged : undefined;
  const tags = Array.from({ length: Math.max(1, d.count ?? 1) }, (_, i) => (dev.prefix && tagged(d) ? core.tag(dev.prefix, dev.nextTag + i) : ""));
  const p = plan(d, judged?.verdict, used?.spent ?? [], session, tags, photos, now, place);
  const next = append(dev, session, p.on, now);
  await one.put({ ...next.dev, purse: used?.purse ?? dev.purse, nextTag: dev.nextTag + tags.filter((t) => t !== "").length }, "device");
  await tx.objectStore("ops").put({ seq: next.dev.seq, op: next.op, link: next.link, find: p.find.id, at: now, sent: 0 });
  await tx.objectStore("finds").put(p.find);
  for (const picture of photos) await tx.objectStore("photos").put({ ...picture, sent: 0 });
  await one.delete("draft");
  await tx.done;
  moved(next.dev);
  forgetDraft();
  void learn(d);
  return p.find;
}

async function learn(d: Draft): Promise<void> {
  const old = (await get("habits")) ?? {};
  const name = d.taxon?.name;
  const taxa = name && !d.group ? [name, ...(old.taxa ?? []).filter((t) => t !== name)].slice(0, 6) : old.taxa;
  await (await db()).put("one", { ...old, state: d.state ?? old.state, county: d.county ?? old.county, freezer: d.freezer ?? old.freezer, taxa }, "habits");
}

/** Edit is what a person changed on a saved find: new values of fields, things added. */
export interface Edit { set?: Fields; remark?: string; photos?: Picture[] }

/** saveEdit appends a further operation. It replaces exactly the values that the person saw. */
export async function saveEdit(find: Find, edit: Edit): Promise<Find> {
  const session = await get("session");
  if (!session) throw new Error("Sign in first: a change needs to know whose it is.");
  const mine: Folded = core.fold((await opsOf(find.id)).map((k) => k.op));
  const theirs = (await heardOf(find.id))?.dots ?? {};
  const saw = (kind: string, id: string, f: string): string[] => [...new Set([...(mine[`${kind} ${id}`]?.fields[f]?.all ?? []).map((s) => s.dot), ...(theirs[`${id} ${f}`] ?? [])])];
  const acts: Acts = Object.entries(edit.set ?? {}).map(([f, val]) => ({
    k: "set", f, val, saw: saw("report", find.id, f),
  }));
  for (const p of edit.photos ?? []) acts.push({ k: "add", f: "photos", val: linkOf(p) });
  if (edit.remark) acts.push({ k: "evt", f: "remarks", val: { text: edit.remark } });
  const on: OpDraft["on"] = [{ id: find.id, kind: "report", acts }, ...movedAnimals(find, edit, saw)];
  const next: Find = {
    ...find, fields: { ...find.fields, ...edit.set },
    photos: [...find.photos, ...(edit.photos ?? []).map((p) => p.sha256)],
    remarks: edit.remark ? [...find.remarks, edit.remark] : find.remarks,
  };
  await commit(session, next, on, edit.photos ?? []);
  return next;
}

// A corrected deed moves the animals of the find with it.
function movedAnimals(find: Find, edit: Edit, saw: (kind: string, id: string, f: string) => string[]): OpDraft["on"] {
  const to = went[edit.set?.deed ?? ""];
  if (!to) return [];
  return find.animals.map((a) => ({
    id: a.id, kind: "animal",
    acts: [{ k: "set", f: "disposition", val: to, saw: saw("animal", a.id, "disposition") }],
  }));
}

async function commit(session: Session, find: Find, on: OpDraft["on"], photos: Picture[]): Promise<void> {
  const now = Date.now();
  const tx = (await db()).transaction(["one", "ops", "finds", "photos"], "readwrite", { durability: "strict" });
  const one = tx.objectStore("one");
  const made = append(sealed((await one.get("device")) as Device), session, on, now);
  await one.put(made.dev, "device");
  await tx.objectStore("ops").put({ seq: made.dev.seq, op: made.op, link: made.link, find: find.id, at: now, sent: 0 });
  await tx.objectStore("finds").put(find);
  for (const picture of photos) await tx.objectStore("photos").put({ ...picture, sent: 0 });
  await tx.done;
  moved(made.dev);
}

/** giveBack gives up the rest of the shares whose window ended before the day,
 * or of all without one, and tells whether there was any. */
export async function giveBack(before = ""): Promise<boolean> {
  const session = await get("session");
  if (!session) return false;
  const now = Date.now();
  const tx = (await db()).transaction(["one", "ops"], "readwrite", { durability: "strict" });
  const one = tx.objectStore("one");
  const dev = sealed((await one.get("device")) as Device);
  const { purse, back } = core.giveBack(dev.purse ?? { holdings: [] }, before);
  if (back.length === 0) return false;
  const records = [...new Set(back.map((b) => b.record))];
  const made = append(dev, session, records.map((id) => ({
    id, kind: "authority", acts: back.filter((b) => b.record === id).map((b) => ({ k: "evt", f: "returned", val: b.return })),
  })), now);
  await one.put({ ...made.dev, purse }, "device");
  await tx.objectStore("ops").put({ seq: made.dev.seq, op: made.op, link: made.link, find: "", at: now, sent: 0 });
  await tx.done;
  moved(made.dev);
  return true;
}
