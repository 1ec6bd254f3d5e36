// The core is the same Go packages that the server runs, compiled for the
// browser. Every call takes and returns JSON; a problem comes back as a kind
// and a sentence.

import type { Fields, Place, Trouble, Word } from "./words";

interface Calls {
  [name: string]: (...args: unknown[]) => string;
}

declare global {
  var wayfall: Calls | undefined;
  var Go: new () => { importObject: WebAssembly.Imports; run(i: WebAssembly.Instance): Promise<void> };
}

export class CoreError extends Error {
  constructor(readonly trouble: Trouble) {
    super(trouble.sentence);
  }
}

let started: Promise<void> | undefined;

/** start loads the core, once. */
export function start(): Promise<void> {
  started ??= (async () => {
    const go = new Go();
    const file = await fetch("phone.wasm");
    if (!file.ok) throw new Error("the rules program could not be read");
    const { instance } = file.headers.get("content-type")?.startsWith("application/wasm")
      ? await WebAssembly.instantiateStreaming(file, go.importObject)
      : await WebAssembly.instantiate(await file.arrayBuffer(), go.importObject);
    void go.run(instance);
    if (!globalThis.wayfall) throw new Error("the rules program did not start");
  })();
  started.catch(() => { started = undefined; });
  return started;
}

function call<T>(name: string, ...args: unknown[]): T {
  const f = globalThis.wayfall?.[name];
  if (!f) throw new CoreError({ kind: "unready", sentence: "The rules program is not loaded yet. Wait a moment and try again." });
  const answer = JSON.parse(f(...args)) as T & { error?: Trouble };
  if (answer && typeof answer === "object" && answer.error) throw new CoreError(answer.error);
  return answer;
}

export interface TaxonRow { name: string; english: string; group: boolean; of?: string; note?: string }
export interface KitFacts { taxa: number; authorities: number; packs: number; sample: boolean; institution?: string; as_of?: string }
export interface Finding {
  rule: string; pack: string; law?: string; layer: string; effect: string; unsure?: boolean;
  because: string; cites: string; source_status: string; authority?: string; missing?: string[]; contact?: string;
}
export interface Due { at?: string; word?: string }
export interface Verdict {
  outcome: string;
  act: "take" | "ask" | "leave" | "note";
  deciding: Finding;
  findings: Finding[] | null;
  obligations: { code: string; due?: Due; to?: string; note?: string; rule: string; authority?: string }[] | null;
  cautions: { code: string; topic: string; text: string }[] | null;
  changes?: { fact: string; rule: string }[];
  relies?: { law: string; authority: string; version?: number; rule: string }[];
  proposes?: string[];
  sample: boolean;
  notice?: string;
}
/** What this phone holds of numbers. Only the core looks inside. */
export interface Purse { holdings: unknown[]; records?: Record<string, string> }
export interface Draw { of: string; left: number; short?: boolean }
/** A verdict, the units of shares that saving it as taken uses, and the purse after that. */
export interface Covered { verdict: Verdict; spent: unknown[]; purse?: Purse; draws: Draw[] }
export interface Holding { authority: string; of: string; left: number; to: string }
export interface Context { now_ms: number; tz: string; person: string; role: string; own: { authority: string; taxon: string; count: number }[]; purse?: Purse }

export interface OpDraft {
  dev: string; seq: number; link: string; clock: string; now_ms: number; tz: string;
  actor: string; scope: string; base?: number;
  on: { id: string; kind: string; acts: { k: string; f: string; val?: unknown; saw?: string[] }[] }[];
}

export interface Said { value: unknown; actor: string; device: string; wall_ms: number; dot: string }
export interface FoldedField { shown?: unknown; differs?: boolean; all: Said[] }
export interface Folded { [kind_id: string]: { kind: string; fields: Record<string, FoldedField> } }

export const core = {
  load: (kit: string) => call<KitFacts>("load", kit),
  region: (bytes: Uint8Array) => call<{ regions: number }>("region", bytes),
  places: (bytes: Uint8Array) => call<{ towns: number }>("places", bytes),
  words: () => call<Record<string, Word[]>>("words"),
  taxa: (query: string, n: number) => call<TaxonRow[]>("taxa", query, n),
  groups: () => call<TaxonRow[]>("groups"),
  members: (group: string, n: number) => call<TaxonRow[]>("members", group, n),
  cover: (fields: Fields, context: Context) => call<Covered>("cover", JSON.stringify(fields), JSON.stringify(context)),
  hear: (purse: Purse, grants: unknown, device: string) => call<Purse>("hear", JSON.stringify(purse), JSON.stringify(grants), device),
  giveBack: (purse: Purse, before: string) => call<{ purse: Purse; back: { record: string; return: unknown }[] }>("giveBack", JSON.stringify(purse), before),
  holds: (purse: Purse, day: string) => call<Holding[]>("holds", JSON.stringify(purse), day),
  place: (fields: Fields) => call<{ place: Place; label: string }>("place", JSON.stringify(fields)),
  tag: (prefix: string, n: number) => call<{ tag: string }>("tag", prefix, n).tag,
  genesis: (dev: string) => call<{ link: string }>("genesis", dev).link,
  op: (draft: OpDraft) => call<{ op: string; link: string; clock: string }>("op", JSON.stringify(draft)),
  checkTag: (text: string) => call<{ tag: string }>("checkTag", text).tag,
  fold: (ops: string[]) => call<Folded>("fold", JSON.stringify(ops)),
};
