// Saying what the rules found as a tired person understands it: one sentence,
// papers and people by their names, no codes. The rule's own words and its
// citation stand under "Why?".

import { core, type Finding, type Verdict } from "./core";

// Short names of offices, which not everybody knows.
const offices: [string, string][] = [
  ["USFWS", "U.S. Fish and Wildlife Service"], ["NMFS", "National Marine Fisheries Service"],
  ["NOAA", "National Oceanic and Atmospheric Administration"], ["OLE", "law enforcement"],
];

const names = new Map<string, string>();

interface Named { id: string; name?: string }
interface KitNames { people?: Named[]; authorities?: Named[]; packs?: { authorisations?: Named[] }[] }

// "Federal bird salvage permit" is "the federal bird salvage permit" inside a sentence.
const phrase = (name: string): string => `the ${/^[A-Z][a-z]/.test(name) ? name[0]!.toLowerCase() + name.slice(1) : name}`;

/** learnNames takes the names of papers and people out of a field kit. */
export function learnNames(kit: string): void {
  const k = JSON.parse(kit) as KitNames;
  names.clear();
  for (const [short, whole] of offices) names.set(short, whole);
  for (const p of k.people ?? []) if (p.name) names.set(p.id, p.name);
  for (const a of [...(k.authorities ?? []), ...(k.packs ?? []).flatMap((p) => p.authorisations ?? [])]) {
    if (a.name) names.set(a.id, phrase(a.name));
  }
  for (const s of core.words()["state"] ?? []) names.set(s.code, s.label);
}

/** called is the name of a paper, a person or a state; its code if nobody gave it one. */
export const called = (id: string): string => names.get(id) ?? id;

/** inWords replaces the codes in a sentence that have a name. */
export const inWords = (text: string): string => text.replace(/[A-Za-z0-9][\w.-]*\w/g, (w) => names.get(w) ?? w);

const list = (all: string[]): string => (all.length < 2 ? all.join("") : `${all.slice(0, -1).join(", ")} and ${all.at(-1)}`);

// What a rule did not get to know. Facts about the animal are left out: there
// the rule's own sentence says more.
const unknowns: Record<string, string> = {
  landowner_consent: "whether whoever controls the ground agrees in writing", land_manager: "who controls the ground",
  land_authority: "whether the ground’s own permit is there", place: "in which state it lies",
  possessed: "when it was picked up", found: "when it was found", quota: "how many the permit still allows",
  permit_copy_on_hand: "whether a copy of the permit is with you", salvager_caused_death: "whether you caused its death",
  opportunistic: "whether you were out searching", research_purpose: "whether it is for a research project",
  wants_to_keep: "whether somebody wants to keep it", sale: "whether it is to be sold", cause: "what killed it",
  suspected_crime: "whether somebody shot, trapped or poisoned it", suspected_poison: "whether it was poisoned",
  in_live_traffic_lane: "whether the place is safe", other_hazard: "whether the place is safe", count: "how many there are",
  event_carcass_count: "how many dead animals lie here", soft_tissue: "whether there is flesh on it", band: "whether it has a band",
  depends_on: "whether the permit that it rests on holds", role: "who you are to the museum", person: "who you are",
};

// The first sentence; the dot of a shortened word does not end one.
const first = (text: string): string => /^.*?[a-z0-9)”][.!?](?=\s|$)/.exec(text)?.[0] ?? text;

/** plainly is a finding as one sentence. */
export function plainly(f: Finding): string {
  const rest = f.missing?.length ? f.because.replace(/^Not known: [^.]*\. /, "") : f.because;
  const open = [...new Set((f.missing ?? []).map((m) => unknowns[m] ?? ""))];
  if (f.unsure && open.length > 0 && !open.includes("")) return `Not known yet: ${list(open)}.`;
  return first(inWords(rest));
}

/** because is the sentence under the answer: what covers it, or what stands in the way. */
export function because(v: Verdict): string {
  if (v.act !== "take") return plainly(v.deciding);
  const papers = [...new Set((v.relies ?? []).map((r) => r.authority).filter((a) => a !== ""))];
  if (papers.length > 0) return `Covered by ${list(papers.map(called))}.`;
  return plainly((v.findings ?? []).find((f) => f.effect === "allow") ?? v.deciding);
}

/** office is whom to call, without the remark for the people who fill the packs. */
export function office(contact: string): string {
  const who = contact.replace(/\s*\([^)]*\)\s*$/, "");
  return inWords(who && who[0]!.toUpperCase() + who.slice(1));
}

/** opening is the name of the animal, unless the sentence begins with it. */
export const opening = (animal: string, told: string): string => (told.startsWith(animal) ? told : `${animal}. ${told}`);
