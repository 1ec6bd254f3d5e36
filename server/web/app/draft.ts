// The find that is being typed. Every touch is kept, so that a dropped phone
// or a dead battery loses nothing.

import { civil, minute, typed } from "./moments";
import { dropPictures } from "./photos";
import { drop, get, newId, set } from "./store";
import type { Draft, Fields } from "./words";

let current: Draft | undefined;

/** draft returns the find being typed, if there is one. */
export const draft = (): Draft | undefined => current;

/** loadDraft reads back what was being typed before. */
export async function loadDraft(): Promise<void> {
  current = await get("draft");
}

/** beginDraft starts a new find, with what this phone usually says. */
export async function beginDraft(): Promise<Draft> {
  if (thrown) await dropPictures(thrown.id);
  thrown = undefined;
  const habits = await get("habits");
  const now = Date.now();
  current = {
    id: newId(), begun: now, now: true, found: minute(now), count: 1, material: "carcass",
    photos: [], facts: {}, state: habits?.state, county: habits?.county, freezer: habits?.freezer,
  };
  await set("draft", current);
  return current;
}

let writing: Promise<void> = Promise.resolve();

/** change alters the find being typed and keeps it at once. */
export function change(what: Partial<Draft>): Draft {
  if (!current) throw new Error("no find is being typed");
  current = { ...current, ...what };
  const now = current;
  writing = writing.then(() => set("draft", now)).catch(() => undefined);
  return current;
}

let thrown: Draft | undefined;

/** throwDraft puts the find being typed away; until another is begun it can come back. */
export async function throwDraft(): Promise<void> {
  thrown = current;
  current = undefined;
  await writing;
  await drop("draft");
}

/** thrownDraft is what was put away last. */
export const thrownDraft = (): Draft | undefined => thrown;

/** takeBack undoes throwDraft. */
export async function takeBack(): Promise<void> {
  current = thrown;
  thrown = undefined;
  if (current) await set("draft", current);
}

/** forgetDraft forgets it in memory only, after a save has removed it from the store. */
export const forgetDraft = (): void => { current = undefined; };

/** fieldsOf turns what was typed into the report's fields. */
export function fieldsOf(d: Draft, now: number): Fields {
  const f: Fields = { material: d.material ?? "carcass", count: d.count ?? 1 };
  f.found = d.now ? minute(d.begun) : d.found;
  if (d.fix) f.fix = d.fix;
  if (d.coordinates) f.coordinates = d.coordinates;
  if (d.locality) f.locality = d.locality;
  if (d.place) f.place = d.place;
  if (d.taxon) f.taxon = d.taxon;
  if (d.condition?.decay !== undefined) f.condition = d.condition;
  if (d.circumstance) f.circumstance = d.circumstance;
  if (d.cause?.cause) f.cause = d.cause;
  f.signs = { ...d.signs, ...d.facts };
  if (d.inHand) f.signs["in_hand"] = "yes";
  if (d.land?.permission || d.land?.manager) f.land = d.land;
  if (d.band) f.band = d.band;
  if (d.deed) f.deed = d.deed;
  if (d.deed === "taken") f.taken_at = d.inHand ? f.found : minute(now);
  if (d.frozen) f.frozen = d.frozen;
  return f;
}

/** foundAt is the time of the find as a civil time. */
export const foundAt = (d: Draft): string => (d.now ? civil(d.begun) : d.found?.earliest ?? "");

/** setFound takes a typed time, or the sentence that says what is wrong with it. */
export function setFound(text: string): string {
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}/.test(text) || Number.isNaN(Date.parse(text))) return "Give a day and a time, such as 18 Oct 2026, 14:02.";
  if (Date.parse(text) > Date.now() + 60_000) return "This is in the future by the phone's clock. Choose the time of the find.";
  change({ now: false, found: typed(text) });
  return "";
}
