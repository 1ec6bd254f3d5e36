// The frame around every screen: the bar with what is unsent, one question,
// the thumb's button. Screens are named by the address, so that the phone's
// own back button works.

import { h, type Kid } from "./dom";
import { status } from "./sync";

export interface View {
  title: string; // in the bar
  back?: string; // screen before this one
  body: Kid;
  foot?: Kid;
  leave?: () => void; // called before another screen is shown
}

type Maker = (rest: string) => View | Promise<View>;

const makers = new Map<string, Maker>();
let showing: View | undefined;
let shown = "";

/** page gives a screen its name. */
export const page = (name: string, make: Maker): void => { makers.set(name, make); };

/** go shows another screen. */
export function go(name: string): void {
  if (location.hash === `#/${name}`) void show();
  else location.hash = `#/${name}`;
}

/** here is the name of the screen that is shown. */
export const here = (): string => shown.split("/")[0] ?? "";

/** say tells people who listen instead of look. */
export function say(text: string): void {
  const el = document.getElementById("say");
  if (el && el.textContent !== text) el.textContent = text;
}

const byId = (id: string): HTMLElement => document.getElementById(id) as HTMLElement;

/** show draws the screen that the address names. */
export async function show(): Promise<void> {
  const path = location.hash.replace(/^#\//, "") || "start";
  const [name = "start", ...rest] = path.split("/");
  const make = makers.get(name) ?? makers.get("start");
  if (!make) return;
  showing?.leave?.();
  showing = undefined;
  const same = path === shown;
  const scroll = scrollY;
  shown = path;
  const view = await make(rest.join("/"));
  if (shown !== path) return view.leave?.();
  draw(view);
  if (same) scrollTo(0, scroll);
  else arrive();
}

/** redraw draws the same screen again and keeps the place of the eye. */
export const redraw = (): Promise<void> => show();

function draw(view: View): void {
  showing = view;
  byId("page").replaceChildren(...flat(view.body));
  byId("foot").replaceChildren(...flat(view.foot));
  bar();
}

function flat(kid: Kid): Node[] {
  return [...h("div", {}, kid).childNodes];
}

function arrive(): void {
  scrollTo(0, 0);
  const head = document.querySelector<HTMLElement>("#page h1");
  head?.setAttribute("tabindex", "-1");
  (head ?? byId("page")).focus({ preventScroll: true });
}

/** bar draws the top bar again. */
export function bar(): void {
  const v = showing;
  if (!v) return;
  const told = statusLine();
  byId("bar").replaceChildren(...flat([
    v.back !== undefined && h("a", { class: "back", href: `#/${v.back}`, "data-test": "back" }, h("span", { "aria-hidden": "true" }, "‹"), h("span", { class: "unseen" }, "Back")),
    h("b", {}, v.title),
    h("a", { class: `status${status.stray || status.state === "sign-in" || status.state === "portal" || (status.state === "trouble" && status.unsent + status.photos > 0) ? " loud" : ""}`, href: "#/sending", "data-test": "status" }, told),
  ]));
  say(told);
}

/** statusLine says in a few words what is unsent and why. */
export function statusLine(): string {
  const waiting = status.unsent + status.photos;
  const count = status.unsent > 0 ? `${status.unsent} unsent` : status.photos > 0 ? `${status.photos} ${status.photos === 1 ? "photo" : "photos"} unsent` : "";
  if (status.stray) return [count, "needs a code"].filter((t) => t !== "").join(" · ");
  const why = navigator.onLine === false ? "no signal" : {
    idle: "", sending: waiting > 0 ? "sending" : "", offline: "no signal", portal: "network blocks",
    "sign-in": "sign in", trouble: waiting > 0 ? "not sent" : "",
  }[status.state];
  return [count, why].filter((t) => t !== "").join(" · ") || "all sent";
}

/** thumb is the big button at the bottom. */
export function thumb(label: Kid, test: string, act: () => void | Promise<void>, second = false): HTMLButtonElement {
  let busy = false;
  return h("button", {
    type: "button", class: second ? "go second" : "go", "data-test": test,
    onclick: async () => {
      if (busy) return;
      busy = true;
      try { await act(); } finally { busy = false; }
    },
  }, label);
}

export interface Choice { key: string; label: string; hint?: string; picture?: Kid; test: string }

/** choices is a list of big answers; one touch answers. */
export function choices(list: Choice[], chosen: string | undefined, pick: (key: string) => void, two = false): HTMLElement {
  return h("div", { class: two ? "choices two" : "choices", role: "group" }, list.map((c) => h("button", {
    type: "button", class: "choice", "aria-pressed": c.key === chosen ? "true" : "false", "data-test": c.test, onclick: () => pick(c.key),
  }, c.picture, h("span", {}, c.label, c.hint && h("small", {}, c.hint)))));
}

/** wrong is the one sentence that a field gets when it cannot be right. */
export function wrong(id: string, sentence = ""): HTMLParagraphElement {
  return h("p", { class: "wrong", id, role: "alert", "data-test": id }, sentence);
}

/** mark a field as wrong, or right again. */
export function judge(field: HTMLElement, note: HTMLElement, sentence: string): boolean {
  note.textContent = sentence;
  if (sentence) {
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", note.id);
  } else {
    field.removeAttribute("aria-invalid");
  }
  return sentence === "";
}

/** stepper counts with two big buttons. */
export function stepper(label: string, test: string, n: number, low: number, high: number, changed: (n: number) => void): HTMLElement {
  const out = h("output", { "data-test": test, "aria-live": "polite" }, n);
  const step = (by: number) => (): void => {
    n = Math.max(low, Math.min(high, n + by));
    out.textContent = String(n);
    changed(n);
  };
  return h("div", { class: "row" }, h("span", { class: "label" }, label),
    h("span", { class: "count", role: "group", "aria-label": label },
      h("button", { type: "button", "aria-label": "one fewer", "data-test": `${test}-fewer`, onclick: step(-1) }, "−"), out,
      h("button", { type: "button", "aria-label": "one more", "data-test": `${test}-more`, onclick: step(1) }, "+")));
}

/** sentence makes a clause of the program a sentence for a person. */
export function sentence(clause: string): string {
  const t = clause.trim();
  return t === "" ? "" : t[0]!.toUpperCase() + t.slice(1) + (/[.!?]$/.test(t) ? "" : ".");
}
