// What this phone keeps: its own operations and their receipts, its finds, its
// photos, the rules it was given, and what is being typed. Everything that
// belongs together is written in one transaction, so a phone that dies between
// two writes has either all of a save or none of it.

import { openDB, type DBSchema, type IDBPDatabase } from "idb";
import type { Purse } from "./core";
import type { Stray } from "./stray";
import type { Draft, Fields } from "./words";

/** The phone as the log knows it: one chain of operations. */
export interface Device {
  id: string;
  seq: number; // of the newest operation
  link: string; // of the chain, after the newest operation
  clock: string; // newest stamp
  nextTag: number;
  prefix: string;
  base?: number; // newest place in the server's log that this phone has seen
  purse?: Purse; // the shares it holds; none: it never asked for any
  fence?: string; // the key of the mark outside the store, or how the right to shares was lost
  resting?: boolean; // it asks for no shares until it is told to
}

export interface Session {
  access: string;
  until: number;
  refresh: string;
  person: { id: string; name: string; roles?: string[] };
  institution: { id: string; name: string };
}

/** One operation with everything that happened to it. Never removed. */
export interface Kept {
  seq: number;
  op: string;
  link: string; // of the chain after this operation
  find: string;
  at: number;
  sent: 0 | 1;
  sentAt?: number;
  receipt?: Receipt;
}

/** An operation of a number that this phone had before. */
export interface Past extends Kept {
  dev: string;
  again: number; // its number now, 0 if the museum had it and it was not saved again
}

/** What the museum's server says of a find now. */
export interface Heard {
  find: string;
  at: number;
  differs: string[]; // labels of fields that hands left different
  dots: Record<string, string[]>; // "record field" to the values seen there
  animals: { id: string; disposition?: string; intake?: string; catalogue?: string }[];
  answer?: { headline: string; because: string; outcome: string };
}

export interface Receipt { dev?: string; seq: number; lsn?: number; effect?: string; code?: string; why?: string }

/** A find of one's own, as its list shows it. */
export interface Find {
  id: string;
  made: number;
  fields: Fields;
  english: string;
  asked: string; // what it was thought to be when the verdict was given
  animals: { id: string; tag: string }[];
  verdict?: unknown;
  photos: string[];
  remarks: string[];
  place: string;
}

export interface Picture {
  sha256: string;
  find: string;
  type: string;
  size: number;
  at: number;
  bytes: Blob;
  thumb?: Blob;
  sent: 0 | 1 | 2; // 2: not yet part of anything saved
  said?: string; // what the server had against it
}

interface Shelves extends DBSchema {
  one: { key: string; value: unknown };
  ops: { key: number; value: Kept; indexes: { find: string; sent: number } };
  past: { key: [string, number]; value: Past; indexes: { find: string } };
  heard: { key: string; value: Heard };
  finds: { key: string; value: Find };
  photos: { key: [string, string]; value: Picture; indexes: { find: string; sent: number } };
}

let opened: Promise<IDBPDatabase<Shelves>> | undefined;

/** db opens the phone's own store, once. */
export function db(): Promise<IDBPDatabase<Shelves>> {
  opened ??= openDB<Shelves>("wayfall", 2, {
    upgrade(d, before) {
      d.createObjectStore("past", { keyPath: ["dev", "seq"] }).createIndex("find", "find");
      if (before === 1) return;
      d.createObjectStore("one");
      const ops = d.createObjectStore("ops", { keyPath: "seq" });
      ops.createIndex("find", "find");
      ops.createIndex("sent", "sent");
      d.createObjectStore("heard", { keyPath: "find" });
      d.createObjectStore("finds", { keyPath: "id" });
      const photos = d.createObjectStore("photos", { keyPath: ["find", "sha256"] });
      photos.createIndex("find", "find");
      photos.createIndex("sent", "sent");
    },
  });
  return opened;
}

interface One { device: Device; session: Session; draft: Draft; kit: { etag: string; text: string; at: number }; region: { digest: string; bytes: ArrayBuffer }; stray: Stray; life: string; habits: { state?: string; county?: string; freezer?: string; taxa?: string[] } }

export async function get<K extends keyof One>(key: K): Promise<One[K] | undefined> {
  return (await (await db()).get("one", key)) as One[K] | undefined;
}

export async function set<K extends keyof One>(key: K, value: One[K]): Promise<void> {
  await (await db()).put("one", value, key);
}

export async function drop(key: keyof One): Promise<void> {
  await (await db()).delete("one", key);
}

/** newId makes 128 random bits, written in 22 letters. */
export function newId(): string {
  const raw = crypto.getRandomValues(new Uint8Array(16));
  return btoa(String.fromCharCode(...raw)).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

export interface Tally { unsent: number; photos: number }

/** tally counts what has not reached the server yet. */
export async function tally(): Promise<Tally> {
  const d = await db();
  const [unsent, photos] = await Promise.all([
    d.countFromIndex("ops", "sent", 0),
    d.countFromIndex("photos", "sent", 0),
  ]);
  return { unsent, photos };
}

/** finds returns the phone's finds, newest first. */
export async function finds(): Promise<Find[]> {
  return (await (await db()).getAll("finds")).sort((a, b) => b.made - a.made);
}

/** opsOf returns the operations that touched a find, in the order of their making.
 * One that was saved again under another number counts once. */
export async function opsOf(find: string): Promise<Kept[]> {
  const d = await db();
  const before = (await d.getAllFromIndex("past", "find", find)).filter((k) => k.again === 0);
  const now = await d.getAllFromIndex("ops", "find", find);
  return [...before.sort((a, b) => a.at - b.at || a.seq - b.seq), ...now.sort((a, b) => a.seq - b.seq)];
}

/** heardOf returns what the museum said of a find when it was last asked. */
export async function heardOf(find: string): Promise<Heard | undefined> {
  return (await db()).get("heard", find);
}
