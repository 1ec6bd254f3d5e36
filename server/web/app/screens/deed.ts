// 5 What was done, then the save. "Saved" is only said after the store has it.

import type { Covered, Purse } from "../core";
import { h, mark, type Kid } from "../dom";
import { change, draft } from "../draft";
import { civil, typed } from "../moments";
import { picturesOf, sealPhoto } from "../photos";
import { saveFind } from "../save";
import { go, page, redraw, say, thumb, wrong, judge } from "../shell";
import { recount, send } from "../sync";
import { deeds, type Draft } from "../words";
import { answer, faces, judgeDraft, judgeOf } from "./verdict";
import { placeLine } from "./where";

/** photoButton opens the camera; several photos are taken one after the other. */
export function photoButton(id: string, find: string, added: () => void): Kid {
  const note = wrong(`${id}-wrong`);
  const pick = h("input", { id, type: "file", accept: "image/jpeg,image/png", capture: "environment", class: "unseen", "aria-label": "Photo from the camera", "data-test": id, tabindex: "-1" });
  pick.addEventListener("change", () => void (async () => {
    try {
      for (const f of pick.files ?? []) await sealPhoto(f, find);
      judge(pick, note, "");
      added();
    } catch (e) {
      judge(pick, note, e instanceof Error ? e.message : String(e));
    }
  })());
  return [pick, h("div", { class: "row" }, h("button", { type: "button", class: "go second", "data-test": `${id}-button`, onclick: () => pick.click() }, "Take a photo")), note];
}

/** thumbnails of the photos of a find. */
export async function thumbnails(find: string): Promise<Kid> {
  const all = await picturesOf(find);
  return all.length > 0 && h("div", { class: "thumbs", "data-test": "thumbs" }, all.map((p, i) => {
    const url = URL.createObjectURL(p.thumb ?? p.bytes);
    return h("img", { src: url, alt: `Photo ${i + 1}${p.said ? `: ${p.said}` : ""}`, onload: () => URL.revokeObjectURL(url) });
  }));
}

function freezer(d: Draft): Kid {
  const where = h("input", { id: "freezer", value: d.freezer ?? "", maxlength: 200, autocomplete: "off", placeholder: "garage freezer, home", "data-test": "freezer" });
  const note = wrong("frozen-wrong");
  const at = h("input", { id: "frozen-at", type: "datetime-local", value: d.frozen?.at.earliest ?? "", "data-test": "frozen-at" });
  const keep = (): void => {
    if (at.value && Date.parse(at.value) > Date.now() + 60_000) {
      judge(at, note, "This is in the future. Leave it empty and fill it in when it is frozen.");
      return;
    }
    judge(at, note, "");
    change({ freezer: where.value, frozen: at.value ? { at: typed(at.value), where: where.value } : undefined });
  };
  where.addEventListener("change", keep);
  at.addEventListener("change", keep);
  const now = h("button", { type: "button", class: "plain", "data-test": "frozen-now", onclick: () => { at.value = civil(Date.now()); keep(); } }, "Now");
  return h("details", { class: "pad", open: d.frozen !== undefined }, h("summary", { "data-test": "freezer-open" }, "Freezer: add it now or later"),
    h("label", { for: "freezer" }, "Which freezer?"), where, h("label", { for: "frozen-at" }, "Frozen since"), at, note, h("div", { class: "row" }, now));
}

// What was only looked for is not a number.
const plainBand = (band: string | undefined): string => (band === "none" || band === "seen, not read" ? "" : band ?? "");

function extras(d: Draft): Kid {
  const band = h("input", { id: "band", value: plainBand(d.band), autocomplete: "off", autocapitalize: "characters", maxlength: 60, "data-test": "band", placeholder: "1234-56789" });
  band.addEventListener("change", () => change({ band: band.value.trim() || d.band }));
  const remark = h("textarea", { id: "remark", maxlength: 4000, "data-test": "remark" }, d.remark ?? "");
  remark.addEventListener("change", () => change({ remark: remark.value.trim() }));
  return h("details", { class: "pad", open: Boolean(plainBand(d.band) || d.band === "seen, not read" || d.remark) }, h("summary", { "data-test": "more-open" }, "Band number, remark"),
    h("label", { for: "band" }, "Band or ring number, whole"), band, h("label", { for: "remark" }, "Remark"), remark);
}

async function save(): Promise<void> {
  const d = draft();
  const note = document.getElementById("deed-wrong");
  if (!d) return go("start");
  if (!d.deed) {
    if (note) note.textContent = "Choose what you did with it. Everything else is kept.";
    return;
  }
  try {
    const judge = await judgeOf(d);
    const judged = (purse: Purse | undefined): Covered | undefined => { try { return judge(purse); } catch { return undefined; } };
    const find = await saveFind(d, judged, placeLine(d));
    await recount();
    go(`saved/${find.id}`);
    void send();
  } catch (e) {
    const told = `Not saved yet: ${e instanceof Error ? e.message : String(e)} What you typed is still here.`;
    if (note) note.textContent = told;
    say(told);
  }
}

// Something already picked up has an answer of its own; something bagged
// against the answer is recorded all the same, and says so.
async function changed(d: Draft): Promise<Kid> {
  try {
    const { verdict: v, draws } = await judgeDraft(d);
    if (d.inHand) return answer(v, d, draws);
    return v.act !== "take" && h("div", { class: "effect ask", "data-test": "against" }, mark("ask", 28),
      h("span", {}, `The answer was “${faces[v.act]?.words ?? v.act}”. If you have it already it is recorded all the same, and the permit officer will see it.`));
  } catch {
    return null;
  }
}

page("deed", async () => {
  const d = draft();
  if (!d) { go("start"); return { title: "", body: null }; }
  const key = d.deed ? `${d.deed}${d.inHand ? "-hand" : ""}` : undefined;
  return {
    title: "5 of 5", back: "verdict",
    body: [
      h("h1", {}, "What did you do?"),
      h("div", { class: "choices", role: "group" }, deeds.map((x) => {
        const mine = `${x.code}${x.inHand ? "-hand" : ""}`;
        return h("button", {
          type: "button", class: "choice", "aria-pressed": String(mine === key), "data-test": `deed-${x.inHand ? "in-hand" : x.code}`,
          onclick: () => { change({ deed: x.code, inHand: x.inHand }); void redraw(); },
        }, h("span", {}, x.label, h("small", {}, x.hint)));
      })),
      wrong("deed-wrong"),
      await thumbnails(d.id), photoButton("photo", d.id, () => void redraw()),
      d.deed === "taken" && (await changed(d)),
      d.deed === "taken" && freezer(d), extras(d),
    ],
    foot: thumb("Save", "save", save),
  };
});

