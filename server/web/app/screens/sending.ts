// Sending: what waits, why, and a button. And the sign-in.

import { core } from "../core";
import { h, mark, type Kid } from "../dom";
import { civil, spoken } from "../moments";
import { NetError } from "../net";
import { called } from "../plain";
import { giveBack } from "../save";
import { device, signIn } from "../session";
import { hasLost, rest } from "../shares";
import { beginAnew, stranded, wasEmptied, type Stray } from "../stray";
import { go, judge, page, redraw, say, thumb, wrong } from "../shell";
import { db, finds, get } from "../store";
import { goneStray, kitFacts, recount, send, status } from "../sync";

/** offered is a code that came with the address and did not work yet. */
export const offered = (): string => sessionStorage.getItem("code") ?? "";

/** offer keeps a code until it worked, or the page is closed. */
export const offer = (code: string): void => (code ? sessionStorage.setItem("code", code) : sessionStorage.removeItem("code"));

/** signInForm asks for the code. What was typed stays if it was wrong. */
export function signInForm(): Kid {
  const note = wrong("code-wrong");
  const field = h("input", { id: "code", value: offered(), autocomplete: "one-time-code", autocapitalize: "characters", spellcheck: "false", "data-test": "code", enterkeyhint: "go" });
  field.addEventListener("input", () => offer(field.value)); // the screen may be drawn again meanwhile
  const submit = async (e: Event): Promise<void> => {
    e.preventDefault();
    if (!judge(field, note, field.value.trim() ? "" : "Type the code from the museum.")) return;
    const told = await trySignIn(field.value);
    if (judge(field, note, told)) { offer(""); go("start"); }
  };
  return h("form", { onsubmit: (e: Event) => void submit(e) },
    h("label", { for: "code" }, "Code"), field, note,
    h("div", { class: "row" }, h("button", { class: "go", "data-test": "sign-in" }, "Sign in")));
}

/** trySignIn returns nothing, or the sentence that says why not. */
export async function trySignIn(code: string): Promise<string> {
  try {
    await signIn(code);
    void send();
    return "";
  } catch (e) {
    if (e instanceof NetError && e.status === 409) await goneStray("other");
    if (e instanceof NetError) return e.gone === "offline" ? "Signing in needs a network, once. Try again when there is signal." : e.message;
    return e instanceof Error ? e.message : String(e);
  }
}

const strayWords: Record<Exclude<Stray, "">, [string, string]> = {
  frozen: ["This phone’s records exist twice", "They were copied to another phone, or put back from an older copy. The museum keeps both and cannot tell which goes on."],
  old: ["This phone’s records are an older copy", "The museum has had more from this phone than is on it now, so the phone was put back from a copy."],
  holes: ["Some of this phone’s records are gone", "The browser made room, or somebody cleared them. What had been sent is at the museum."],
  copied: ["This phone’s records were copied or partly cleared", "So it may not count on its share of a permit’s numbers any more. It still sends what is saved."],
  other: ["This phone was somebody else’s", "It is enrolled for another person, or was reported lost."],
};

let typedCode = ""; // the screen may be drawn again while a code is typed

/** strayNote explains why nothing more can be sent as it is, and offers the one way on. */
export async function strayNote(): Promise<Kid> {
  if (!status.stray) return null;
  const [head, told] = strayWords[status.stray];
  const n = (await (await db()).getAll("ops")).filter(stranded).length;
  const note = wrong("anew-wrong");
  const field = h("input", { id: "anew", value: typedCode, autocomplete: "one-time-code", autocapitalize: "characters", spellcheck: "false", "data-test": "anew-code", enterkeyhint: "go" });
  field.addEventListener("input", () => { typedCode = field.value; });
  let busy = false;
  const submit = async (e: Event): Promise<void> => {
    e.preventDefault();
    if (busy || !judge(field, note, field.value.trim() ? "" : "Type the code from the museum.")) return;
    busy = true;
    const answer = await anew(field.value);
    busy = false;
    if (judge(field, note, answer)) go("start");
  };
  return h("section", { "data-test": "stray", "data-why": status.stray },
    h("div", { class: "effect ask" }, mark("ask", 28), h("span", {}, h("b", {}, head), h("div", {}, told),
      h("div", {}, n === 0 ? "Nothing is waiting on this phone." : `${n} ${n === 1 ? "save waits" : "saves wait"} here and ${n === 1 ? "is" : "are"} safe.`),
      h("div", {}, "To go on, ask the museum for a code. The phone gets a new number, and what waits is saved again under it. Keep the tags that are on bags."))),
    h("form", { onsubmit: (e: Event) => void submit(e) }, h("label", { for: "anew" }, "Code for a new number"), field, note,
      h("div", { class: "row" }, h("button", { class: "go", "data-test": "anew" }, "Go on with a new number"))));
}

async function anew(code: string): Promise<string> {
  try {
    const n = await beginAnew(code);
    typedCode = "";
    await goneStray("");
    await recount();
    say(n === 0 ? "This phone has a new number." : `This phone has a new number. ${n} ${n === 1 ? "save is" : "saves are"} being sent again.`);
    void send();
    return "";
  } catch (e) {
    if (e instanceof NetError && e.gone === "offline") return "A new number needs a network, once. Everything is kept; try again when there is signal.";
    return `${e instanceof Error ? e.message : String(e)} Everything is kept as it was.`;
  }
}

/** emptiedNote tells that this page's store was cleared, if it was. */
export async function emptiedNote(): Promise<Kid> {
  return wasEmptied((await device()).id) && h("div", { class: "effect ask", "data-test": "emptied" }, mark("ask", 28), h("span", {},
    h("b", {}, "This phone’s records were cleared"), h("div", {}, "The browser made room, or somebody emptied it. What had been sent is safe at the museum. What had not been sent is no longer on this phone: write it down while you remember it."),
    h("div", {}, "Sign in with a code to go on.")));
}

function why(): string {
  if (status.said) return status.said;
  if (navigator.onLine === false || status.state === "offline") return "No network. Everything stays on this phone and goes by itself when the signal returns.";
  if (status.state === "sending") return "Sending now.";
  if (status.state === "sign-in") return "Sign in again to send. Nothing is lost meanwhile.";
  return status.unsent + status.photos > 0 ? "Waiting for the next try." : "Everything has reached the museum.";
}

async function storage(): Promise<Kid> {
  const firm = await navigator.storage?.persisted?.().catch(() => false);
  const room = await navigator.storage?.estimate?.().catch(() => undefined);
  const mb = (n = 0): string => `${Math.round(n / 1e6)} MB`;
  return h("dl", { class: "facts" },
    h("dt", {}, "Kept"), h("dd", { "data-test": "storage" }, firm ? "The browser has promised not to clear this page’s store." : "The browser may clear this page’s store when the phone is full. Put the page on the home screen, and send soon."),
    room && [h("dt", {}, "Room"), h("dd", { class: "figures" }, `${mb(room.usage)} used of ${mb(room.quota)}`)]);
}

// What the phone may take of limited numbers while it hears from nobody.
async function numbers(): Promise<Kid> {
  const dev = await device();
  if (!dev.purse) return null;
  const held = hasLost(dev) ? [] : core.holds(dev.purse, civil(Date.now()).slice(0, 10));
  const twice = (of: string): boolean => held.filter((n) => n.of === of).length > 1;
  return [
    h("h2", {}, "Until the next contact"),
    held.length > 0 ? [h("p", { class: "lede" }, "Of numbers that a permit limits, this phone may take:"),
      h("dl", { class: "facts", "data-test": "shares" }, held.map((n) => [h("dt", {}, n.of, twice(n.of) && h("small", {}, called(n.authority))), h("dd", { class: "figures" }, n.left === 0 ? "no more; ask first" : `${n.left} more`)]))]
      : h("p", { class: "lede", "data-test": "shares" }, hasLost(dev) ? "Nothing of a number that a permit limits: its share is no longer its own." : dev.resting ? "This phone asks for no share of a number. Where a permit limits a number, the answer is “Ask first”." : "Where a permit limits a number, the answer is “Ask first”: this phone has no share of one yet."),
    !hasLost(dev) && h("div", { class: "row" }, dev.resting
      ? h("button", { type: "button", class: "plain", "data-test": "shares-again", onclick: () => void rest(false).then(send).then(redraw) }, "Ask for a share again")
      : held.some((n) => n.left > 0) && h("button", { type: "button", class: "plain", "data-test": "shares-back", onclick: () => void backToMuseum() }, "Give it back, others may need it")),
  ];
}

async function backToMuseum(): Promise<void> {
  await rest(true);
  await giveBack();
  await recount();
  say("Given back.");
  void send();
  await redraw();
}

async function about(): Promise<Kid> {
  const [dev, session, rules] = [await device(), await get("session"), kitFacts()];
  return [
    h("dl", { class: "facts" },
      h("dt", {}, "Person"), h("dd", {}, session?.person.name ?? "not signed in"),
      h("dt", {}, "Tags begin"), h("dd", {}, dev.prefix || "after sign-in"),
      h("dt", {}, "Rules"), h("dd", {}, rules ? `${rules.packs} rule packs, ${rules.authorities} authorities, ${rules.taxa} kinds${rules.sample ? "; samples" : ""}` : "none on this phone"),
      h("dt", {}, "Phone"), h("dd", {}, h("code", {}, dev.id)),
      h("dt", {}, "Saves"), h("dd", { class: "figures" }, String(dev.seq))),
  ];
}

page("sending", async () => {
  const mine = await finds();
  const signedOut = status.state === "sign-in" || !(await get("session"));
  const clear = status.unsent + status.photos === 0;
  return {
    title: "Sending", back: "start",
    body: [
      h("h1", {}, status.stray === "copied" ? "This phone needs a new number" : status.stray ? "Sending has stopped" : clear ? "Nothing waits" : `${status.unsent} ${status.unsent === 1 ? "save" : "saves"} wait${status.unsent === 1 ? "s" : ""}`),
      await strayNote(),
      !status.stray && h("div", { class: `effect ${clear ? "take" : "ask"}`, "data-test": "sending-why" }, mark(clear ? "sent" : "wait", 28), h("span", {}, why(),
        status.photos > 0 && h("div", {}, `${status.photos} ${status.photos === 1 ? "photo waits" : "photos wait"} too.`),
        status.next && status.state !== "sending" && h("div", { class: "quiet" }, `Next try ${spoken(civil(status.next))}, or by the button.`),
        status.last && h("div", { class: "quiet" }, `Last sent ${spoken(civil(status.last))}.`))),
      signedOut && [h("h2", {}, "Sign in"), signInForm()],
      await numbers(),
      h("h2", {}, "This phone"), await storage(), await about(),
      h("p", { class: "lede" }, `${mine.length} ${mine.length === 1 ? "find is" : "finds are"} kept here, sent ones too.`),
    ],
    foot: thumb("Send now", "send-now", async () => { await send(); await redraw(); }),
  };
});
