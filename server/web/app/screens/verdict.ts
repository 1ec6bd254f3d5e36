// 4 Verdict. A shape and a word; one sentence; what to do; whom to call. Every
// finding opens with its citation.

import { core, CoreError, type Context, type Covered, type Draw, type Due, type Finding, type Verdict } from "../core";
import { h, mark, type Kid, type Mark } from "../dom";
import { change, draft, fieldsOf } from "../draft";
import { civil, minute, spoken, zone } from "../moments";
import { because, called, inWords, office, opening, plainly } from "../plain";
import { go, page, redraw, say, sentence, thumb } from "../shell";
import { finds, get, opsOf } from "../store";
import { sealed } from "../shares";
import { tagsFor } from "../save";
import type { Draft } from "../words";

export const faces: Record<string, { shape: Mark; words: string }> = {
  take: { shape: "take", words: "You may take it" },
  ask: { shape: "ask", words: "Ask first" },
  leave: { shape: "stop", words: "Leave it" },
  note: { shape: "note", words: "Write it down" },
};

/** judgeOf prepares to work out the verdict from what was typed, for a purse. */
export async function judgeOf(d: Draft): Promise<(purse: Context["purse"]) => Covered> {
  const session = await get("session");
  const now = Date.now();
  const fields = fieldsOf(d, now);
  if (d.deed !== "left" && !d.inHand) fields.taken_at = minute(now); // the question is whether to take it now
  const context = { now_ms: now, tz: zone(now), person: session?.person.id ?? "", role: roleOf(session?.person.roles ?? []), own: await ownTakings() };
  return (purse) => core.cover(fields, { ...context, purse });
}

/** judgeDraft works out the verdict from what was typed, on the phone. */
export async function judgeDraft(d: Draft): Promise<Covered> {
  const judge = await judgeOf(d);
  const dev = await get("device");
  return judge(dev && sealed(dev).purse);
}

// Who works at the museum is staff to the rules, everybody else a volunteer.
const roleOf = (roles: string[]): string => (roles.some((r) => r === "registrar" || r === "preparator" || r === "permit_officer") ? "staff" : "volunteer");

// What this phone took after the numbers in its kit were counted.
async function ownTakings(): Promise<{ authority: string; taxon: string; count: number }[]> {
  const [all, kit] = [await finds(), await get("kit")];
  const fresh = await Promise.all(all.filter((f) => f.fields.deed === "taken").map(async (f) => {
    const first = (await opsOf(f.id))[0];
    return first && (!first.sent || (first.sentAt ?? 0) >= (kit?.at ?? 0)) ? f : undefined;
  }));
  return fresh.flatMap((f) => {
    const relied = new Set(((f?.verdict as Verdict | undefined)?.relies ?? []).map((r) => r.authority));
    return [...relied].filter((a) => a !== "").map((authority) => ({ authority, taxon: f?.fields.taxon?.name || f?.fields.taxon?.written || "", count: f?.fields.count ?? 1 }));
  });
}

/** dueWords writes a due time with the month in letters. */
export function dueWords(due: Due | undefined): string {
  if (!due) return "";
  return due.at ? `by ${spoken(due.at)}` : due.word ?? "";
}

const effectShape: Record<string, Mark> = { allow: "take", note: "note", review: "ask", hold: "stop", refuse: "stop", refuse_transfer: "ask", breach: "stop", due: "note" };
const effectWords: Record<string, string> = { allow: "In order", note: "Noted", review: "Ask", hold: "Leave it and call", refuse: "Not allowed", refuse_transfer: "Not to this recipient", breach: "Done without authority", due: "A duty falls due" };

// How well the source of a rule is known.
const statuses: Record<string, string> = {
  read: "source read", "read-partly": "source read in part", "read-quoted": "source read as quoted", "read-secondary": "read about", mixed: "partly from memory",
  memory: "from memory", derived: "concluded", practice: "common practice", sample: "invented sample",
};

function finding(f: Finding): Kid {
  return h("div", { class: "finding", "data-test": "finding" }, mark(effectShape[f.effect] ?? "note", 22),
    h("b", {}, `${effectWords[f.effect] ?? f.effect}${f.unsure ? ", a fact is missing" : ""}: `), f.unsure ? plainly(f) : inWords(f.because),
    h("cite", { "data-test": "cites" }, `${f.cites}${statuses[f.source_status] ? ` · ${statuses[f.source_status]}` : ""} · ${f.rule}`));
}

function contacts(v: Verdict): Kid {
  const names = [...new Set((v.findings ?? []).filter((f) => f.contact).map((f) => office(f.contact as string)))];
  return names.map((c) => {
    const number = /\+?[\d][\d\s().-]{6,}\d/.exec(c)?.[0];
    return h("div", { class: "who", "data-test": "contact" }, h("b", {}, "Call"), number ? h("a", { href: `tel:${number.replace(/[^\d+]/g, "")}` }, c) : c);
  });
}

function asks(v: Verdict, d: Draft): Kid {
  const open = new Map((v.changes ?? []).flatMap((c) => { const q = questions[c.fact]; return q ? [[q.sign, q] as const] : []; }));
  return [...open.values()].slice(0, 4).map((q) => {
    return [h("h2", {}, q.ask), h("div", { class: "row", role: "group", "aria-label": q.ask }, ["yes", "no"].map((a) => h("button", {
      type: "button", class: "choice", "aria-pressed": String(d.facts[q.sign] === a), "data-test": `fact-${q.sign}-${a}`,
      onclick: () => { change({ facts: { ...draft()?.facts, [q.sign]: a } }); void redraw(); },
    }, a === "yes" ? "Yes" : "No")))];
  });
}

// Facts that the rules may ask for and that a salvager can answer on the spot.
const questions: Record<string, { sign: string; ask: string }> = {
  permit_copy_on_hand: { sign: "permit_copy", ask: "Do you carry a copy of the permit?" },
  salvager_caused_death: { sign: "caused", ask: "Did you cause its death?" },
  opportunistic: { sign: "planned", ask: "Were you out searching for carcasses?" },
  research_purpose: { sign: "research", ask: "Is it taken for a research project?" },
  wants_to_keep: { sign: "keep", ask: "Does somebody want to keep it?" },
  in_live_traffic_lane: { sign: "danger", ask: "Is traffic, water or a wire a danger here?" },
  other_hazard: { sign: "danger", ask: "Is traffic, water or a wire a danger here?" },
  suspected_crime: { sign: "crime", ask: "Does it look shot, trapped or poisoned?" },
  suspected_poison: { sign: "crime", ask: "Does it look shot, trapped or poisoned?" },
};

// The notice stands whole among the findings; its first sentence stands above.
const short = (notice: string | undefined): string => /^.*?\.(?=\s|$)/.exec(notice ?? "")?.[0] ?? "";

// What only the museum knows: whether the rest of a number is free.
const beyond = (draws: Draw[], animal: string): string => {
  const short = draws.filter((x) => x.short);
  const most = short.reduce((a, b) => (b.left < a.left ? b : a), short[0]!);
  const number = `the permit’s number${most.of === animal ? "" : ` (${most.of.toLowerCase()})`}`;
  return `This phone has ${most.left === 0 ? "no share left" : `only ${most.left} left of its share`} of ${number}. Others may hold the rest, so ask.`;
};

/** answer is the coloured top of a verdict. */
export function answer(v: Verdict, d: { english?: string; count?: number }, draws: Draw[] = []): Kid {
  const face = faces[v.act] ?? faces["ask"]!;
  const animal = `${(d.count ?? 1) > 1 ? `${d.count} × ` : ""}${d.english || "Not identified"}`;
  return h("section", { class: `answer ${face.shape}`, "data-test": "verdict", "data-act": v.act, "data-outcome": v.outcome },
    h("div", { class: "head" }, mark(face.shape), h("h1", {}, face.words)),
    h("p", { "data-test": "sentence" }, opening(animal, told(v, draws, d.english))),
    contacts(v),
    h("details", { "data-test": "why" }, h("summary", {}, "Why? ›"), (v.findings ?? []).map(finding),
      v.notice && h("p", { class: "quiet" }, v.notice),
      (v.proposes ?? []).length > 0 && h("p", {}, `Would fit better: ${(v.proposes ?? []).map(called).join(", ")}.`)),
    v.sample && h("p", { class: "sample", "data-test": "sample" }, short(v.notice) || "These rules are samples. They permit nothing in the real world."));
}

// The first sentence of a caution always stands there; the rest opens.
function care(c: { topic: string; text: string }): Kid {
  const head = short(c.text) || c.text;
  const rest = c.text.slice(head.length).trim();
  const line = [h("b", {}, `Take care, ${c.topic}. `), head];
  return rest ? h("details", { class: "wide" }, h("summary", {}, h("span", {}, line, " ", h("u", {}, "More"))), h("p", {}, rest)) : h("span", {}, line);
}

type Obligation = NonNullable<Verdict["obligations"]>[number];

// Duties that nobody does at the roadside.
const forMuseum = /ACCESSION|REPORT_LINE|FILE_/;

const duty = (o: Obligation): Kid => h("li", { "data-test": "duty", "data-code": o.code }, mark("wait", 24), h("span", {},
  h("b", {}, dutyWords(o.code)), dueWords(o.due) && ` ${dueWords(o.due)}`, o.to && ` · ${inWords(o.to)}`, o.note && h("div", { class: "quiet" }, sentence(o.note))));

const told = (v: Verdict, draws: Draw[], animal = ""): string => (v.deciding.layer === "quota" && v.deciding.unsure && draws.some((x) => x.short) ? beyond(draws, animal) : because(v));

// Said only when little is left.
function nearEnd(draws: Draw[]): Kid {
  const least = draws.reduce<Draw | undefined>((a, b) => (a && a.left <= b.left ? a : b), undefined);
  return least && !least.short && least.left < 3 && h("li", { "data-test": "share-left" }, mark("note", 24), h("span", {},
    least.left === 0 ? `The last one before this phone must hear from the museum again (${least.of}).` : `After this, ${least.left} more before this phone must hear from the museum again (${least.of}).`));
}

/** toDo is what to do now: the tag, the duties, and what to take care of. */
export function toDo(v: Verdict, tags: string[], draws: Draw[]): Kid {
  const takes = v.act === "take";
  const all = (v.obligations ?? []).filter((o) => !(takes && o.code === "TAG"));
  const [yours, museums] = [all.filter((o) => !forMuseum.test(o.code)), all.filter((o) => forMuseum.test(o.code))];
  return h("ul", { class: "do" },
    takes && h("li", {}, mark("note", 24), h("span", {}, "Stay out of the lane. Gloves on.")),
    takes && tags.length > 0 && h("li", {}, h("span", {}, tags.length > 1 ? "One tag for each animal, in pencil:" : "Write this on the tag, in pencil:",
      tags.slice(0, 12).map((t) => h("div", { class: "tag", "data-test": "tag" }, t)), tags.length > 12 && h("div", {}, `and on, to ${tags[tags.length - 1]}`),
      h("span", { class: "quiet" }, `${spoken(civil(Date.now()).slice(0, 10))} · your full name`))),
    takes && h("li", {}, mark("note", 24), h("span", {}, "One animal, one bag, tag inside. Freeze today.")),
    takes && nearEnd(draws),
    yours.map(duty),
    museums.length > 0 && h("li", {}, h("details", { class: "wide" }, h("summary", {}, `${museums.length} more for the museum ›`), h("ul", { class: "do inner" }, museums.map(duty)))),
    (v.cautions ?? []).map((c) => h("li", { class: "care", "data-test": "caution" }, mark("note", 24), care(c))));
}

// A duty of a later rule pack has no words here yet; its code is made of plain ones.
const dutyWords = (code: string): string => core.words()["duty"]?.find((w) => w.code === code)?.label ?? sentence(code.toLowerCase().replace(/_/g, " ")).slice(0, -1);

const general = "General information. Local codes, site rules and licensed practice decide, and so does the officer on the spot. If the place feels unsafe, leave it: a record is enough.";

page("verdict", async () => {
  const d = draft();
  if (!d) { go("start"); return { title: "", body: null }; }
  let v: Verdict, draws: Draw[];
  try {
    ({ verdict: v, draws } = await judgeDraft(d));
  } catch (e) {
    const told = e instanceof CoreError ? sentence(e.trouble.sentence) : "The rules could not be worked out on this phone.";
    return {
      title: "4 of 5", back: "land",
      body: [h("section", { class: "answer ask", "data-test": "verdict", "data-act": "ask" }, h("div", { class: "head" }, mark("ask"), h("h1", {}, "Ask first")), h("p", {}, told))],
      foot: thumb("Next: what I did", "verdict-next", () => go("deed")),
    };
  }
  say(`${faces[v.act]?.words ?? ""}. ${told(v, draws, d.english)}`);
  const tags = await tagsFor(d.count ?? 1);
  return {
    title: "4 of 5", back: "land",
    body: [answer(v, d, draws), asks(v, d), toDo(v, tags, draws), h("p", { class: "lede" }, general)],
    foot: v.act === "take"
      ? [thumb("Bag it. Next: save", "verdict-bag", () => { change({ deed: "taken", inHand: undefined }); go("deed"); }), thumb("Something else", "verdict-other", () => go("deed"), true)]
      : v.act === "note" ? thumb("Next: what I did", "verdict-next", () => go("deed"))
      : [thumb("Leave it. Next: save", "verdict-leave", () => { change({ deed: "left", inHand: undefined }); go("deed"); }), thumb("Something else", "verdict-other", () => go("deed"), true)],
  };
});

