// 1 Where and when. The phone's own position, or typed, or words.

import { core, CoreError } from "../core";
import { circle, h, type Kid } from "../dom";
import { change, draft, fieldsOf, foundAt, setFound } from "../draft";
import { spoken } from "../moments";
import { Watch, type Reading } from "../position";
import { go, judge, page, redraw, say, sentence, thumb, wrong } from "../shell";
import type { Draft, Fields, Place } from "../words";

type Way = "device" | "typed" | "words";
let way: Way = "device";
let changingTime = false;

const watch = new Watch((r) => took(r));

function took(r: Reading): void {
  const d = draft();
  if (d && r.fix && way === "device") {
    change({ fix: r.fix, ...worked({ ...fieldsOf(d, Date.now()), fix: r.fix, coordinates: undefined, place: undefined }) });
  }
  const box = document.getElementById("fix");
  if (box) box.replaceChildren(...[fixBox(r)].flat() as Node[]);
}

function worked(f: Fields): { place?: Place; placeLabel?: string } {
  try {
    const got = core.place(f);
    return { place: got.place, placeLabel: got.label };
  } catch {
    return {};
  }
}

/** metres writes a radius as a person says it. */
export function metres(m: number): string {
  if (m >= 10_000) return `${Math.round(m / 1000)}\u00a0km`;
  if (m >= 1000) return `${(m / 1000).toFixed(1)}\u00a0km`;
  return `${Math.max(1, Math.round(m))}\u00a0m`;
}

/** placeLine names a place: its county if known, else its words or numbers. */
export function placeLine(d: Pick<Draft, "place" | "placeLabel" | "locality" | "coordinates">): string {
  return d.placeLabel || d.locality || d.coordinates || (d.place?.known ? numbers(d.place) : "");
}

const numbers = (p: { lat?: number; lon?: number }): string => `${(p.lat ?? 0).toFixed(5)}, ${(p.lon ?? 0).toFixed(5)}`;

function fixBox(r: Reading): Node {
  if (!r.fix) {
    return h("div", {}, h("b", {}, r.waiting ? "Looking for the sky…" : "No position"), h("span", { class: "quiet" }, r.trouble ?? "Stand by the animal, off the lane. You can go on; the place fills in by itself."));
  }
  const d = draft();
  const region = d?.placeLabel ?? "";
  const wide = (r.fix.accuracy_m ?? 0) > 100;
  say(`Position within ${metres(r.fix.accuracy_m ?? 0)}`);
  return h("div", { class: "row" }, circle(r.fix.accuracy_m ?? 0), h("div", {},
    h("b", { class: "figures", "data-test": "accuracy" }, `within ${metres(r.fix.accuracy_m ?? 0)}`),
    region && h("div", { "data-test": "region" }, region),
    h("div", { class: "quiet figures" }, numbers(r.fix)),
    wide && h("div", { class: "quiet" }, "Wide. Wait a moment in the open, or add words below.")));
}

function deviceWay(): Kid {
  return h("div", { class: "fix", id: "fix", "data-test": "fix" }, fixBox(watch.reading));
}

function typedWay(d: Draft): Kid {
  const note = wrong("coordinates-wrong");
  const told = h("p", { class: "lede", "data-test": "coordinates-read" }, d.place?.known && d.coordinates ? readBack(d.place) : "");
  const field = h("input", { id: "coordinates", value: d.coordinates ?? "", autocomplete: "off", "data-test": "coordinates", placeholder: "43.2342, -86.2484", spellcheck: "false" });
  const datum = h("select", { id: "datum", "data-test": "datum" }, datums.map((x) => h("option", { value: x.key, selected: x.key === (d.place?.datum ?? "WGS84") }, x.label)));
  const look = (): void => {
    if (!field.value.trim()) return;
    change({ coordinates: field.value, fix: undefined });
    try {
      const got = core.place({ ...fieldsOf(d, Date.now()), coordinates: field.value, fix: undefined, place: { datum: datum.value } });
      change({ place: got.place, placeLabel: got.label });
      judge(field, note, "");
      told.textContent = readBack(got.place, got.label);
    } catch (e) {
      change({ place: undefined, placeLabel: undefined });
      told.textContent = "";
      judge(field, note, e instanceof CoreError ? `${sentence(e.trouble.sentence)} What you typed is kept.` : "These coordinates cannot be read. What you typed is kept.");
    }
  };
  field.addEventListener("change", look);
  datum.addEventListener("change", look);
  return [h("label", { for: "coordinates" }, "Coordinates, as you have them"), field, note, told, h("label", { for: "datum" }, "Where are they from?"), datum];
}

function readBack(p: Place, label = ""): string {
  const read = `Read as ${numbers(p)}${p.radius_m ? `, within ${metres(p.radius_m)}` : ""}${label ? `, ${label}` : ""}.`;
  const astray = !label && !(p.flags ?? []).includes("near-border");
  return astray ? `${read} That is in no county this phone knows. The latitude comes first, and west has a minus.` : read;
}

const datums = [
  { key: "WGS84", label: "A phone, navigator or web map (WGS 84)" },
  { key: "US map", label: "A paper map of the United States" },
  { key: "", label: "I do not know" },
];

function wordsWay(d: Draft): Kid {
  const told = h("p", { class: "lede", "data-test": "words-read", "aria-live": "polite" }, wordsRead(d));
  const words = h("textarea", { id: "locality-words", "data-test": "locality", maxlength: 2000, placeholder: "2 mi N of Muskegon on M-120, east side" }, d.locality ?? "");
  const field = (id: "county" | "state", label: string, hint: string): Kid => {
    const el = h("input", { id, value: d[id] ?? "", autocomplete: "off", placeholder: hint, "data-test": id });
    el.addEventListener("change", () => { change({ [id]: el.value }); place(); });
    return [h("label", { for: id }, label), el];
  };
  const place = (): void => {
    const now = change({ locality: words.value, fix: undefined, coordinates: undefined });
    const then = change(worked({ ...fieldsOf(now, Date.now()), place: { state: now.state, county: now.county, source: "words" } }));
    told.textContent = wordsRead(then);
  };
  words.addEventListener("change", place);
  return [h("label", { for: "locality-words" }, "The place in words"), words, told, field("county", "County", "Muskegon"), field("state", "State", "Michigan")];
}

// What the words came to. Words that are not understood are kept as words.
function wordsRead(d: Draft): string {
  if (!d.locality) return "Distance and direction from a town are understood; everything else is kept as you write it.";
  if (d.place?.known) return readBack(d.place, d.placeLabel);
  return d.placeLabel ? `Kept in your words, in ${d.placeLabel}.` : "Kept in your words. Add the state, so that the right rules are asked.";
}

function moreWords(d: Draft): Kid {
  const el = h("input", { id: "locality", value: d.locality ?? "", maxlength: 2000, autocomplete: "off", placeholder: "road, side, nearest marker", "data-test": "locality" });
  el.addEventListener("change", () => change({ locality: el.value }));
  return [h("label", { for: "locality" }, "In words, if you like"), el];
}

function time(d: Draft): Kid {
  if (!changingTime) {
    return h("div", { class: "row" }, h("span", {}, h("b", { class: "figures", "data-test": "found" }, d.now ? `Now, ${spoken(foundAt(d))}` : spoken(foundAt(d)))),
      h("button", { type: "button", class: "plain", "data-test": "change-time", onclick: () => { changingTime = true; void redraw(); } }, "Change"));
  }
  const note = wrong("found-wrong");
  const field = h("input", { id: "found", type: "datetime-local", value: foundAt(d), "data-test": "found-time" });
  field.addEventListener("change", () => judge(field, note, setFound(field.value)));
  return [h("label", { for: "found" }, "When did you find it?"), field, note];
}

const ways: { key: Way; label: string }[] = [
  { key: "device", label: "Phone" }, { key: "typed", label: "Type in" }, { key: "words", label: "Words" },
];

page("where", () => {
  const d = draft();
  if (!d) { go("start"); return { title: "", body: null }; }
  if (way === "device") watch.start(); else watch.stop();
  return {
    title: "1 of 5", back: "start", leave: () => watch.stop(),
    body: [
      h("h1", {}, "Where and when?"),
      way === "device" ? deviceWay() : way === "typed" ? typedWay(d) : wordsWay(d),
      h("div", { class: "row", role: "group", "aria-label": "How to give the place" }, ways.map((w) => h("button", {
        type: "button", class: "choice", "aria-pressed": String(w.key === way), "data-test": `way-${w.key}`,
        onclick: () => { way = w.key; void redraw(); },
      }, w.label))),
      way === "device" && moreWords(d),
      h("h2", {}, "Found"), time(d),
    ],
    foot: thumb("Next: what is it?", "where-next", () => go("what")),
  };
});
