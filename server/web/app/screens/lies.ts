// 3 How it lies: five short questions, one a screen. One touch answers and
// goes on; "cannot tell" is always at the thumb and costs nothing more.

import { core } from "../core";
import { carcass, type Kid, h } from "../dom";
import { change, draft } from "../draft";
import { choices, go, judge, page, redraw, stepper, thumb, wrong, type View } from "../shell";
import { decays, type Draft } from "../words";

function need(make: (d: Draft) => View): () => View {
  return () => {
    const d = draft();
    if (d) return make(d);
    go("start");
    return { title: "", body: null };
  };
}

const step = (n: number): string => `3 of 5 · ${"●".repeat(n)}${"○".repeat(5 - n)}`;

page("condition", need((d) => ({
  title: step(1), back: "what",
  body: [
    h("h1", {}, "How fresh is it?"),
    choices(decays.map((x) => ({ key: String(x.n), label: x.label, hint: x.hint, picture: carcass(x.n), test: `decay-${x.n}` })),
      d.condition?.decay === undefined ? undefined : String(d.condition.decay),
      (key) => { change({ condition: { decay: Number(key) }, decaySaid: true }); go("lay"); }),
  ],
  foot: thumb("Cannot tell", "decay-unknown", () => { change({ condition: undefined, decaySaid: true }); go("lay"); }, true),
})));

// Where something lay suggests who keeps that ground; it is shown on the land
// question and can be changed there.
const ground: Record<string, string> = { road: "road_authority", beach: "state", garden: "private", under_window: "private", under_line: "utility", under_turbine: "utility" };

page("lay", need((d) => ({
  title: step(2), back: "condition",
  body: [
    h("h1", {}, "Where did it lie?"),
    choices((core.words()["circumstance"] ?? []).filter((w) => w.code !== "other").map((w) => ({ key: w.code, label: w.label, test: `lay-${w.code}` })),
      d.circumstance, (key) => {
        change({ circumstance: key, land: { ...draft()?.land, manager: ground[key] ?? "" } });
        go("cause");
      }, true),
  ],
  foot: thumb("Elsewhere", "lay-other", () => { change({ circumstance: "other", land: { ...draft()?.land, manager: "" } }); go("cause"); }, true),
})));

// The likelier causes for a place come first; the others stay in their order.
const first: Record<string, string[]> = {
  road: ["vehicle", "predator", "cat"], under_window: ["window", "cat"], beach: ["toxin", "fishing", "oil", "starvation"],
  under_line: ["line", "electrocution"], under_turbine: ["turbine"], under_tower: ["tower"], garden: ["cat", "window"],
  water: ["fishing", "drowned", "toxin"], care: ["care", "euthanised"], freezer: [],
};

page("cause", need((d) => {
  const words = (core.words()["cause"] ?? []).filter((w) => w.code !== "unknown");
  const near = first[d.circumstance ?? ""] ?? [];
  const sorted = [...near.flatMap((c) => words.filter((w) => w.code === c)), ...words.filter((w) => !near.includes(w.code))];
  return {
    title: step(3), back: "lay",
    body: [
      h("h1", {}, "What killed it, by the look of it?"),
      h("p", { class: "lede" }, "Only what you can see. The bench decides later."),
      choices(sorted.map((w) => ({ key: w.code, label: w.label, test: `cause-${w.code}` })), d.cause?.cause, (key) => {
        change({ cause: { cause: key, basis: near.includes(key) ? "position" : "sign", certainty: "likely" } });
        go("signs");
      }, true),
    ],
    foot: thumb("Cannot tell", "cause-unknown", () => { change({ cause: { cause: "unknown" } }); go("signs"); }, true),
  };
}));

// Facts that rules ask about. Each line says the harmless case; one touch says
// that all of them hold, and a line that does not hold is touched first.
const lines: { sign: string; so: string; not: string; line: string }[] = [
  { sign: "crime", so: "no", not: "yes", line: "No sign of shot, trap or poison" },
  { sign: "danger", so: "no", not: "yes", line: "Safe here: no traffic, water, wires" },
  { sign: "planned", so: "no", not: "yes", line: "Met by chance, not searched for" },
  { sign: "caused", so: "no", not: "yes", line: "I did not cause its death" },
  { sign: "keep", so: "no", not: "yes", line: "Nobody wants to keep or sell it" },
  { sign: "research", so: "no", not: "yes", line: "Not taken for a research project" },
  { sign: "band", so: "none", not: "seen, not read", line: "No band, ring or marker on it" },
  { sign: "permit_copy", so: "yes", not: "no", line: "A copy of the permit is with me" },
];

// The band is a field of its own; a number that was read is never overwritten.
function answer(sign: string, said: string): void {
  const d = draft();
  if (sign !== "band") change({ signs: { ...d?.signs, [sign]: said } });
  else if (!d?.band || d.band === "none" || d.band === "seen, not read") change({ band: said });
}

// Touched lines go from "not so" to "cannot tell" and back.
function turn(sign: string, so: string, not: string): void {
  const marked = { ...draft()?.marked };
  const now = marked[sign];
  if (now === undefined) marked[sign] = not;
  else if (now === not) marked[sign] = "";
  else delete marked[sign];
  change({ marked });
  answer(sign, marked[sign] ?? so);
}

page("signs", need((d) => {
  const marked = d.marked ?? {};
  const done = (): void => {
    for (const l of lines) answer(l.sign, marked[l.sign] ?? l.so);
    answer("others", Number(draft()?.signs?.["others_nearby"] ?? 0) > 0 ? "yes" : "no"); // the number stood there to be read
    go("land");
  };
  const some = Object.keys(marked).length > 0;
  return {
    title: step(4), back: "cause",
    body: [
      h("h1", {}, "Is all of this so?"),
      h("p", { class: "lede" }, "Touch a line that is not so; twice for “cannot tell”."),
      h("div", { class: "choices tight", role: "group" }, lines.map((l) => {
        const m = marked[l.sign];
        const told = m === undefined ? "" : m === "" ? "Cannot tell" : "Not so";
        return h("button", { type: "button", class: `choice${told ? " marked" : ""}`, "data-test": `so-${l.sign}`, "aria-label": `${l.line}. ${told}`, onclick: () => { turn(l.sign, l.so, l.not); void redraw(); } },
          h("span", {}, l.line), told && h("b", { class: "told" }, told));
      })),
      stepper("Other dead animals nearby", "nearby", Number(d.signs?.["others_nearby"] ?? 0), 0, 500, (n) => change({ signs: { ...draft()?.signs, others_nearby: n } })),
    ],
    foot: thumb(some ? "The other lines are so" : "All of this is so", "signs-next", done),
  };
}));

const leave: { key: string; label: string; permission: string; written?: boolean }[] = [
  { key: "written", label: "Yes, in writing", permission: "yes", written: true },
  { key: "spoken", label: "Yes, by word of mouth", permission: "yes" },
  { key: "no", label: "No, they said no", permission: "no" },
  { key: "not-needed", label: "My own ground, or no leave needed", permission: "not_needed" },
];

page("land", need((d) => {
  const say = (permission: string, written?: boolean) => (): void => {
    change({ land: { ...draft()?.land, permission, written } });
    go("verdict");
  };
  const now = leave.find((l) => l.permission === d.land?.permission && Boolean(l.written) === Boolean(d.land?.written));
  return {
    title: step(5), back: "signs",
    body: [
      h("h1", {}, "May you take it from this ground?"),
      managers(d), h("h2", {}, "Did they give leave?"),
      choices(leave.map((l) => ({ key: l.key, label: l.label, test: `land-${l.key}` })), now?.key, (key) => {
        const l = leave.find((x) => x.key === key);
        if (l) say(l.permission, l.written)();
      }),
    ],
    foot: thumb("Not asked yet", "land-unknown", say("unknown"), true),
  };
}));

function managers(d: Draft): Kid {
  const note = wrong("by-wrong");
  const pick = h("select", { id: "manager", "data-test": "manager" }, h("option", { value: "" }, "I do not know"),
    (core.words()["manager"] ?? []).map((w) => h("option", { value: w.code, selected: w.code === d.land?.manager }, w.label)));
  pick.addEventListener("change", () => { change({ land: { ...draft()?.land, manager: pick.value } }); judge(pick, note, ""); });
  return [h("label", { for: "manager" }, "Who controls it?"), pick, note];
}
