// A saved find: what is kept, what became of it, and what can be added. Adding
// makes a further save; nothing written before is changed.

import type { Verdict } from "../core";
import { h, mark, type Kid } from "../dom";
import { civil, spoken, typed } from "../moments";
import { picturesOf } from "../photos";
import { hear } from "../heard";
import { saveEdit, type Edit } from "../save";
import { go, judge, page, redraw, say, thumb, wrong } from "../shell";
import { db, get, heardOf, opsOf, set, type Find, type Kept } from "../store";
import { recount, send, status } from "../sync";
import { core } from "../core";
import { answer, faces } from "./verdict";
import { inWords } from "../plain";
import { photoButton, thumbnails } from "./deed";
import { fate, name } from "./start";

const deedWords: Record<string, string> = { taken: "Bagged and taken", left: "Left in place", agency: "Handed to an agency", vanished: "Gone when looked for" };

// What an answer of the server means for the salvager, in plain words. The
// server's own sentence is shown beside it.
const plain: Record<string, string> = {
  over_quota: "Over quota: recorded, the permit officer will see it.",
  not_covered: "No authority covers it as it was reported: recorded, the permit officer will see it.",
  stop_species: "A protected kind that may not be kept: recorded, the permit officer will call you.",
  unknown_authority: "The authority named is not known at the museum: recorded, somebody will look.",
  differs: "Somebody wrote something else about it: both are kept, a person will compare.",
  pair_proposed: "Perhaps the same carcass as another report: both are kept, a person will compare.",
  place_doubt: "The place looks odd: kept as you wrote it, a person will look.",
  date_doubt: "The date looks odd: kept as you wrote it, a person will look.",
  photo_bad: "A photo could not be opened at the museum. The original stays on this phone.",
  unknown_field: "Written by a newer page than the museum knows: kept whole.",
};

function effects(f: Find, ops: Kept[]): Kid {
  const told = ops.filter((k) => k.receipt && k.receipt.effect !== "ok" && k.receipt.effect !== "none");
  if (told.length === 0) return ownEffect(f);
  return told.map((k) => h("div", { class: `effect ${k.receipt?.effect === "quarantined" ? "stop" : "ask"}`, "data-test": "effect", "data-code": k.receipt?.code ?? "" },
    mark(k.receipt?.effect === "quarantined" ? "stop" : "ask", 28), h("span", {}, plain[k.receipt?.code ?? ""] ?? "Recorded; a person at the museum will look at it.", k.receipt?.why && h("div", { class: "quiet" }, k.receipt.why))));
}

// The phone's own answer already told what a person will have to look at.
function ownEffect(f: Find): Kid {
  const v = f.verdict as Verdict | undefined;
  if (v?.outcome !== "breach_to_resolve") return null;
  const code = v.deciding.layer === "quota" ? "over_quota" : "not_covered";
  return h("div", { class: "effect ask", "data-test": "effect", "data-code": code }, mark("ask", 28), h("span", {}, plain[code]));
}

function facts(f: Find): Kid {
  const x = f.fields;
  const row = (label: string, value: Kid): Kid => value && [h("dt", {}, label), h("dd", {}, value)];
  return h("dl", { class: "facts" },
    row("Found", x.found?.earliest && spoken(x.found.earliest)),
    row("Place", [f.place || "not known", x.place?.radius_m ? h("span", { class: "quiet figures" }, ` within ${Math.round(x.place.radius_m)}\u00a0m`) : x.fix?.accuracy_m ? h("span", { class: "quiet figures" }, ` within ${Math.round(x.fix.accuracy_m)}\u00a0m`) : ""]),
    row("How many", String(x.count ?? 1)),
    row("Done", deedWords[x.deed ?? ""] ?? x.deed),
    row("Frozen", x.frozen ? `${spoken(x.frozen.at.earliest ?? "")}${x.frozen.where ? `, ${x.frozen.where}` : ""}` : x.deed === "taken" ? "not yet said" : null),
    row("Band", x.band), f.remarks.map((r) => row("Remark", r)));
}

function addFrozen(f: Find): Kid {
  const where = h("input", { id: "freezer", maxlength: 200, value: f.fields.frozen?.where ?? "", autocomplete: "off", "data-test": "freezer" });
  void get("habits").then((x) => { if (!where.value) where.value = x?.freezer ?? ""; });
  const at = h("input", { id: "frozen-at", type: "datetime-local", value: f.fields.frozen?.at.earliest ?? civil(Date.now()), "data-test": "frozen-at" });
  const note = wrong("frozen-wrong");
  const keep = async (): Promise<void> => {
    const late = Date.parse(at.value) > Date.now() + 60_000;
    const early = f.fields.found?.earliest !== undefined && at.value < f.fields.found.earliest;
    const told = !at.value ? "Give the day and time it went into the freezer." : late ? "This is in the future by the phone’s clock." : early ? `This is before it was found, ${spoken(f.fields.found?.earliest ?? "")}.` : "";
    if (!judge(at, note, told)) return;
    await set("habits", { ...(await get("habits")), freezer: where.value });
    await edit(f, { set: { frozen: { at: typed(at.value), where: where.value } } });
  };
  return h("details", { class: "pad" }, h("summary", { "data-test": "add-frozen" }, f.fields.frozen ? "Correct the freezer" : "It is in the freezer now"),
    h("label", { for: "freezer" }, "Which freezer?"), where, h("label", { for: "frozen-at" }, "Frozen since"), at, note,
    h("div", { class: "row" }, h("button", { type: "button", class: "go second", "data-test": "save-frozen", onclick: () => void keep() }, "Keep")));
}

function addRemark(f: Find): Kid {
  const text = h("textarea", { id: "remark", maxlength: 4000, "data-test": "remark" });
  const note = wrong("remark-wrong");
  return h("details", { class: "pad" }, h("summary", { "data-test": "add-remark" }, "Add a remark"),
    h("label", { for: "remark" }, "Remark"), text, note,
    h("div", { class: "row" }, h("button", { type: "button", class: "go second", "data-test": "save-remark", onclick: () => {
      if (judge(text, note, text.value.trim() ? "" : "Write the remark first.")) void edit(f, { remark: text.value.trim() });
    } }, "Keep")));
}

function correct(f: Find): Kid {
  const name = h("input", { id: "better", list: "better-list", value: f.fields.taxon?.written ?? "", autocomplete: "off", "data-test": "better-name" });
  const note = wrong("better-wrong");
  const options = h("datalist", { id: "better-list" });
  name.addEventListener("input", () => options.replaceChildren(...core.taxa(name.value, 8).map((t) => h("option", { value: t.english }))));
  const band = h("input", { id: "band", value: f.fields.band ?? "", maxlength: 60, autocomplete: "off", "data-test": "band" });
  const deed = h("select", { id: "deed", "data-test": "better-deed" }, Object.entries(deedWords).map(([value, label]) => h("option", { value, selected: value === f.fields.deed }, label)));
  const keep = (): void => {
    const hit = core.taxa(name.value.trim(), 1)[0];
    const same = name.value.trim() === (f.fields.taxon?.written ?? "");
    const set: Edit["set"] = {};
    if (!same) set.taxon = { written: name.value.trim(), name: hit?.english === name.value.trim() ? hit.name : "", certainty: "likely", basis: "corrected" };
    if (band.value.trim() !== (f.fields.band ?? "")) set.band = band.value.trim();
    if (deed.value !== f.fields.deed) set.deed = deed.value;
    if (!judge(name, note, Object.keys(set).length > 0 ? "" : "Nothing is different from what was kept.")) return;
    void edit(set.taxon ? { ...f, english: name.value.trim() } : f, { set });
  };
  return h("details", { class: "pad" }, h("summary", { "data-test": "correct" }, "Correct what it is, the band, or what was done"),
    h("label", { for: "better" }, "What it is"), name, options, note, h("label", { for: "band" }, "Band number"), band, h("label", { for: "deed" }, "What was done"), deed,
    h("div", { class: "row" }, h("button", { type: "button", class: "go second", "data-test": "save-correct", onclick: keep }, "Keep")));
}

async function edit(f: Find, e: Edit): Promise<void> {
  try {
    await saveEdit(f, e);
    await recount();
    say("Kept on this phone.");
    await redraw();
    void send();
  } catch (err) {
    say(`Not kept: ${err instanceof Error ? err.message : String(err)}`);
  }
}

async function newPhotos(f: Find): Promise<void> {
  const fresh = (await picturesOf(f.id)).filter((p) => !f.photos.includes(p.sha256));
  if (fresh.length > 0) await edit(f, { photos: fresh });
}

async function find(id: string): Promise<Find | undefined> {
  return (await db()).get("finds", id);
}

const missing = { title: "Find", back: "start", body: h("h1", {}, "This find is not on this phone") };

page("saved", async (id) => {
  const f = await find(id);
  if (!f) return missing;
  const tags = f.animals.map((a) => a.tag).filter((t) => t !== "");
  const wait = status.unsent;
  return {
    title: "Saved", back: "start",
    body: [
      h("section", { class: "answer take", "data-test": "saved" }, h("div", { class: "head" }, mark("take"), h("h1", {}, "Saved on this phone")),
        h("p", { "data-test": "saved-count" }, wait > 0 ? `${wait} unsent.${status.stray && status.stray !== "copied" ? " It waits until this phone has a new number: see Sending." : status.state === "idle" || status.state === "sending" ? " It goes by itself." : " It goes when there is signal."}` : "Sent to the museum.")),
      effects(f, await opsOf(id)),
      h("ul", { class: "do" },
        f.fields.deed === "taken" && tags.length > 0 && h("li", {}, h("span", {}, "On the tag, in pencil, in the bag:", tags.map((t) => h("div", { class: "tag", "data-test": "tag" }, t)), h("span", { class: "quiet" }, `${spoken(f.fields.found?.earliest?.slice(0, 10) ?? "")} · ${(await get("session"))?.person.name ?? "your full name"}`))),
        f.fields.deed === "taken" && !f.fields.frozen && h("li", {}, mark("wait", 24), h("span", {}, "Freeze it today, then say so here.")),
        f.photos.length === 0 && h("li", {}, mark("note", 24), h("span", {}, "No photo yet. One with the tag beside it helps most."))),
      h("div", { class: "row" }, h("a", { class: "button", href: `#/find/${id}`, "data-test": "open-find" }, "Add freezer, photo or remark")),
    ],
    foot: thumb("Done", "done", () => go("start")),
  };
});

// The way back to the person who found it.
async function heard(f: Find): Promise<Kid> {
  const told = await heardOf(f.id);
  if (!told) return null;
  const rows = told.animals.flatMap((a) => [["Now", a.disposition], ["Intake number", a.intake], ["Catalogue number", a.catalogue]])
    .filter(([, v]) => v).map(([k, v]) => [h("dt", {}, k), h("dd", { "data-test": "heard" }, v)]);
  return [
    h("h2", {}, "Heard from the museum"),
    told.answer && h("div", { class: `effect ${told.answer.outcome}`, "data-test": "second-verdict", "data-outcome": told.answer.outcome },
      mark((["take", "ask", "stop"] as const).find((m) => m === told.answer?.outcome) ?? "note", 28),
      h("span", {}, h("b", {}, `The museum’s own check: ${faces[told.answer.outcome]?.words ?? told.answer.headline}. `), inWords(told.answer.because))),
    told.differs.length > 0 && h("div", { class: "effect ask", "data-test": "differs" }, mark("ask", 28),
      h("span", {}, `Hands differ about: ${[...new Set(told.differs)].join(", ")}. Every value is kept.`)),
    h("dl", { class: "facts" }, rows),
    h("p", { class: "lede" }, `As of ${spoken(civil(told.at))}.`),
  ];
}

// Asks again about a find that is being looked at, quietly and once.
async function ask(f: Find, ops: Kept[]): Promise<void> {
  const at = (await heardOf(f.id))?.at ?? 0;
  if (!ops[0]?.sent || Date.now() - at < 60_000 || navigator.onLine === false) return;
  await hear(f);
  if (location.hash === `#/find/${f.id}` && !document.querySelector("#page details[open]")) await redraw();
}

// A picture that the museum could not open stays here, and says so.
async function spoiled(id: string): Promise<Kid> {
  return (await picturesOf(id)).filter((p) => p.said).map((p, i) => h("div", { class: "effect ask", "data-test": "photo-said" }, mark("ask", 28), h("span", {}, `Photo ${i + 1}: ${p.said} The original stays on this phone.`)));
}

page("find", async (id) => {
  const f = await find(id);
  if (!f) return missing;
  const ops = await opsOf(id);
  void ask(f, ops).catch(() => undefined);
  const state = fate(f, ops);
  const tags = f.animals.map((a) => a.tag).filter((t) => t !== "");
  return {
    title: "Find", back: "start",
    body: [
      h("h1", {}, name(f)),
      h("p", { class: "lede" }, mark(state.shape, 22), ` ${state.words}`),
      tags.map((t) => h("div", { class: "pad tag", "data-test": "tag" }, t)),
      effects(f, ops), facts(f), await heard(f), await thumbnails(id), await spoiled(id),
      addFrozen(f), addRemark(f), correct(f),
      photoButton("more-photo", id, () => void newPhotos(f)),
      h("h2", {}, "The answer at the time"), answerOf(f.verdict as Verdict | undefined, f),
      h("h2", {}, "Every save"), history(ops),
    ],
  };
});

const answerOf = (v: Verdict | undefined, f: Find): Kid => (v ? answer(v, { english: f.asked || name(f), count: f.fields.count }) : h("p", { class: "lede" }, "No answer was worked out."));

function history(ops: Kept[]): Kid {
  return h("ul", { class: "do", "data-test": "history" }, ops.map((k) => h("li", {}, mark(k.sent ? "sent" : "wait", 22), h("span", {}, spoken(civil(k.at)), h("div", { class: "quiet" }, k.sent ? `received as ${k.receipt?.lsn ?? "?"}` : "unsent", ` · save ${k.seq}`)))));
}
