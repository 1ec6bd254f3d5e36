// Start: one big button, what waits, and one's own finds.

import type { Verdict } from "../core";
import { h, mark, type Kid } from "../dom";
import { beginDraft, draft, takeBack, throwDraft, thrownDraft } from "../draft";
import { spoken, civil } from "../moments";
import { go, page, redraw, thumb } from "../shell";
import { finds, get, opsOf, type Find, type Kept } from "../store";
import { kitFacts, status } from "../sync";
import { newVersion, takeOver } from "../update";
import { emptiedNote, signInForm, strayNote } from "./sending";

/** fate says in a few words what became of a find. */
export function fate(f: Find, ops: Kept[]): { shape: "wait" | "sent" | "ask" | "stop"; words: string } {
  if (ops.some((k) => k.receipt?.effect === "quarantined")) return { shape: "stop", words: "kept aside at the museum" };
  if (ops.some((k) => !k.sent)) return { shape: "wait", words: "on this phone, unsent" };
  if (ops.some((k) => k.receipt?.effect === "review") || (f.verdict as Verdict | undefined)?.outcome === "breach_to_resolve") return { shape: "ask", words: "received, a person will look at it" };
  return { shape: "sent", words: "received" };
}

async function row(f: Find): Promise<Kid> {
  const what = fate(f, await opsOf(f.id));
  const tags = f.animals.map((a) => a.tag).filter((t) => t !== "");
  return h("li", {}, h("a", { href: `#/find/${f.id}`, "data-test": "find-row" }, mark(what.shape, 28),
    h("span", {}, h("b", {}, name(f)), tags.length > 0 && h("small", { class: "tagline" }, `${tags[0]}${tags.length > 1 ? ` and ${tags.length - 1} more` : ""}`),
      h("small", {}, `${spoken(civil(f.made))} · ${what.words}`)), h("span", { class: "more", "aria-hidden": "true" }, "›")));
}

/** name is what the find is called in a list. */
export const name = (f: Find): string => f.english || f.fields.taxon?.written || f.fields.taxon?.name || "Not identified";

function unfinished(): Kid {
  const d = draft();
  const gone = thrownDraft();
  if (!d && gone) {
    return h("div", { class: "effect", "data-test": "thrown" }, mark("note", 28), h("span", {}, "Thrown away. ",
      h("button", { type: "button", class: "plain", "data-test": "undo", onclick: () => void takeBack().then(redraw) }, "Bring it back")));
  }
  if (!d) return null;
  const what = d.english || d.taxon?.written || "a find";
  return h("div", { class: "effect ask", "data-test": "unfinished" }, mark("note", 28), h("span", {},
    h("b", {}, `Unfinished: ${what}`), h("br", {}), `begun ${spoken(civil(d.begun))}`, h("br", {}),
    h("button", { type: "button", class: "plain", "data-test": "continue", onclick: () => go(d.taxon ? "what" : "where") }, "Go on with it"), " ",
    h("button", { type: "button", class: "plain", "data-test": "discard", onclick: () => void throwDraft().then(redraw) }, "Throw it away")));
}

async function list(): Promise<Kid> {
  const mine = await finds();
  if (mine.length === 0) return h("p", { class: "lede" }, "Your finds will stand here, newest first, with what became of them. Begin with “New find”.");
  return [h("h2", {}, "Your finds"), h("ul", { class: "list", "data-test": "finds" }, await Promise.all(mine.slice(0, 200).map(row)))];
}

page("start", async () => {
  const session = await get("session");
  if (!session) {
    return {
      title: "wayfall", body: [h("h1", {}, "Sign in once"), await emptiedNote(), h("p", { class: "lede" }, "The museum gave you a code. After that this page works without a network."), status.stray ? await strayNote() : signInForm(), (await finds()).length > 0 && (await list())],
    };
  }
  const rules = kitFacts();
  return {
    title: "wayfall",
    body: [
      h("h1", {}, "What did you find?"),
      h("p", { class: "lede" }, `${session.person.name}, ${rules?.institution || session.institution.name}. ${rules ? `${rules.taxa} kinds and the rules are on this phone.` : "The rules are not on this phone yet; connect once."}`),
      newVersion() && h("div", { class: "new" }, h("button", { type: "button", class: "plain", "data-test": "new-version", onclick: takeOver }, "A new version is ready. Use it")),
      await strayNote(), unfinished(), await list(), await promise(),
    ],
    foot: thumb("New find", "new-find", async () => {
      if (draft()) return go(draft()?.taxon ? "what" : "where");
      await beginDraft();
      go("where");
    }),
  };
});

async function promise(): Promise<Kid> {
  if (!(await get("kit"))) return h("p", { class: "lede" }, "Without rules every answer is “ask first”. Records can be made all the same.");
  return kitFacts()?.sample && h("p", { class: "lede", "data-test": "samples" }, "The rules on this phone are samples to look at. They permit nothing in the real world.");
}

