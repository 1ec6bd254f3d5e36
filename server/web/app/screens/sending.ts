// Sending: what waits, why, and a button. And the sign-in.

import { h, mark, type Kid } from "../dom";
import { civil, spoken } from "../moments";
import { NetError } from "../net";
import { device, signIn } from "../session";
import { go, judge, page, redraw, thumb, wrong } from "../shell";
import { finds, get } from "../store";
import { kitFacts, send, status } from "../sync";

/** offered is a code that came with the address and did not work yet. */
export const offered = (): string => sessionStorage.getItem("code") ?? "";

/** offer keeps a code until it worked, or the page is closed. */
export const offer = (code: string): void => (code ? sessionStorage.setItem("code", code) : sessionStorage.removeItem("code"));

/** signInForm asks for the code. What was typed stays if it was wrong. */
export function signInForm(): Kid {
  const note = wrong("code-wrong");
  const field = h("input", { id: "code", value: offered(), autocomplete: "one-time-code", autocapitalize: "characters", spellcheck: "false", "data-test": "code", enterkeyhint: "go" });
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
    if (e instanceof NetError) return e.gone === "offline" ? "Signing in needs a network, once. Try again when there is signal." : e.message;
    return e instanceof Error ? e.message : String(e);
  }
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
      h("h1", {}, clear ? "Nothing waits" : `${status.unsent} ${status.unsent === 1 ? "save" : "saves"} wait${status.unsent === 1 ? "s" : ""}`),
      h("div", { class: `effect ${clear ? "take" : "ask"}`, "data-test": "sending-why" }, mark(clear ? "sent" : "wait", 28), h("span", {}, why(),
        status.photos > 0 && h("div", {}, `${status.photos} ${status.photos === 1 ? "photo waits" : "photos wait"} too.`),
        status.next && status.state !== "sending" && h("div", { class: "quiet" }, `Next try ${spoken(civil(status.next))}, or by the button.`),
        status.last && h("div", { class: "quiet" }, `Last sent ${spoken(civil(status.last))}.`))),
      status.frozen && h("div", { class: "effect stop", "data-test": "frozen" }, mark("stop", 28), h("span", {}, "This phone’s records were copied to another phone, or back from a copy. What it sends is kept aside until a person at the museum has looked.")),
      signedOut && [h("h2", {}, "Sign in"), signInForm()],
      h("h2", {}, "This phone"), await storage(), await about(),
      h("p", { class: "lede" }, `${mine.length} ${mine.length === 1 ? "find is" : "finds are"} kept here, sent ones too.`),
    ],
    foot: thumb("Send now", "send-now", async () => { await send(); await redraw(); }),
  };
});
