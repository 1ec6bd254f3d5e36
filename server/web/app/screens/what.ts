// 2 What. Search, or touch a group; "not sure" is as near as a name.

import { core, type TaxonRow } from "../core";
import { h, type Kid } from "../dom";
import { change, draft } from "../draft";
import { choices, go, page, redraw, stepper, type Choice } from "../shell";
import { get } from "../store";
import type { Draft } from "../words";

let query = "";
let group: TaxonRow | undefined;

const asChoice = (t: TaxonRow): Choice => ({
  key: t.name, label: t.english, hint: t.group ? t.note ?? "a group, not one kind" : t.name,
  test: t.group ? `group-${slug(t.name)}` : `taxon-${slug(t.name)}`,
});

/** slug makes a name for the tests of the page. */
export const slug = (s: string): string => s.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");

// A group keeps its whole name, "Unidentified owl", once it is chosen.
const called = (t: TaxonRow): string => (t.group && t.name ? t.name[0]!.toUpperCase() + t.name.slice(1) : t.english);

function pick(t: TaxonRow): void {
  change({ taxon: { written: query || called(t), name: t.name, basis: query ? "searched" : "chosen" }, english: called(t), group: t.group });
  query = "";
  group = undefined;
  void redraw();
}

function pickUnlisted(): void {
  change({ taxon: { written: query }, english: query, group: true });
  query = "";
  void redraw();
}

function results(rows: TaxonRow[]): Kid {
  const by = new Map(rows.map((r) => [r.name, r]));
  return choices(rows.map(asChoice), undefined, (key) => { const t = by.get(key); if (t) pick(t); });
}

function found(): Kid {
  const rows = core.taxa(query, 12);
  return [
    results(rows),
    rows.length === 0 && h("p", { class: "lede" }, "No such name in the checklist on this phone."),
    h("div", { class: "choices" }, h("button", { type: "button", class: "choice", "data-test": "unlisted", onclick: pickUnlisted }, h("span", {}, `Keep “${query}” as written`, h("small", {}, "Not on the list: the answer will be to ask first")))),
  ];
}

async function browse(): Promise<Kid> {
  const lately = (await get("habits"))?.taxa ?? [];
  const rows = lately.flatMap((n) => core.taxa(n, 1)).filter((t) => !t.group).slice(0, 4);
  const groups = core.groups();
  const by = new Map(groups.map((g) => [g.name, g]));
  return [
    rows.length > 0 && [h("h2", {}, "Lately"), results(rows)],
    h("h2", {}, "By group, or not sure"),
    choices(groups.map((g) => ({ key: g.name, label: g.english, test: `open-${slug(g.name)}` })), undefined, (key) => { group = by.get(key); void redraw(); }, true),
    h("div", { class: "choices" }, h("button", { type: "button", class: "choice", "data-test": "unknown-animal", onclick: () => pick({ name: "", english: "Not identified", group: true }) },
      h("span", {}, "No idea what it is", h("small", {}, "A photo will help the museum")))),
  ];
}

function inGroup(g: TaxonRow): Kid {
  return [
    h("div", { class: "row" }, h("button", { type: "button", class: "plain", "data-test": "all-groups", onclick: () => { group = undefined; void redraw(); } }, "‹ All groups")),
    results([{ ...g, english: `${g.english}, not sure which`, note: "Judged as the most protected it could be" }, ...core.members(g.name, 60)]),
  ];
}

function search(): Kid {
  const list = h("div", { id: "results", "aria-live": "polite" });
  const field = h("input", { id: "search", type: "search", value: query, placeholder: "Name, English or Latin", autocomplete: "off", autocapitalize: "off", spellcheck: "false", "data-test": "search", enterkeyhint: "search" });
  const fill = async (): Promise<void> => {
    query = field.value.trim();
    const kids = query ? found() : group ? inGroup(group) : await browse();
    list.replaceChildren(...h("div", {}, kids).childNodes);
  };
  field.addEventListener("input", () => void fill());
  void fill();
  return [h("label", { for: "search", class: "unseen" }, "Search the checklist"), field, list];
}

function sure(d: Draft): Kid {
  const one = (d.count ?? 1) === 1;
  return [
    h("h1", { "data-test": "picked" }, d.english ?? ""),
    h("p", { class: "lede" }, d.taxon?.name && d.taxon.name !== d.english ? h("i", {}, d.taxon.name) : "",
      " ", h("button", { type: "button", class: "plain", "data-test": "other-animal", onclick: () => { change({ taxon: undefined, english: undefined, group: undefined }); void redraw(); } }, "Another animal")),
    stepper("How many dead?", "count", d.count ?? 1, 1, 50, (n) => { change({ count: n }); }),
    h("h2", {}, d.group ? "How sure is the group?" : one ? "How sure are you?" : "How sure of the kind?"),
    choices([
      { key: "sure", label: "Sure", hint: "I know it, or saw it well", test: "certainty-sure" },
      { key: "likely", label: "Likely", hint: "It could be something like it", test: "certainty-likely" },
      { key: "guess", label: "A guess", hint: "Treat it as one that may be protected", test: "certainty-guess" },
    ], d.taxon?.certainty, (key) => {
      change({ taxon: { ...draft()?.taxon, certainty: key } });
      go("condition");
    }),
  ];
}

page("what", () => {
  const d = draft();
  if (!d) { go("start"); return { title: "", body: null }; }
  return {
    title: "2 of 5", back: "where",
    body: d.taxon ? sure(d) : [h("h1", {}, "What is it?"), search()],
  };
});
